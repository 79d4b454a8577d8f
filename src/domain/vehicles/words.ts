import { fromSi } from '../measure/units.js'
import type { SpeedUnit } from './vehicle.js'

/**
 * A speed as findings and remedies say it, in the unit of its dial.
 *
 *     v / unit, to 0.1
 *
 * @param unit - Unit of the dial
 * @param speedMPerS - v [m/s]
 * @returns Number and unit
 * @see definition of the units; the rounding: common practice, no source
 * @example speedText('mph', 13.4112) // "30.0 mph"
 */
export const speedText = (unit: SpeedUnit, speedMPerS: number) =>
  `${fromSi('speed', unit, speedMPerS).toFixed(1)} ${unit === 'mph' ? 'mph' : 'km/h'}`

/**
 * A share as findings and remedies say it.
 *
 *     100 · f, to 0.1
 *
 * @param fraction - f
 * @returns Number and sign of percent
 * @see definition of percent; the rounding: common practice, no source
 * @example percentText(0.0304) // "3.0 %"
 */
export const percentText = (fraction: number) => `${(fraction * 100).toFixed(1)} %`
