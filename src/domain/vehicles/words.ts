import { PROVEN } from '../measure/conformity.js'
import { decimalsApart } from '../measure/digits.js'
import { fromSi } from '../measure/units.js'
import type { SpeedUnit } from './vehicle.js'

/**
 * Text of a speed in findings and remedies, in the unit of the dial.
 *
 *     v / unit, to 0.1, or to as many decimals as distinguish it from the other speeds in the text
 *
 * @param unit - Unit of the dial
 * @param speedMPerS - v [m/s]
 * @param among - Speeds that the text compares; pass the same list for each of them. [m/s]
 * @returns Number and unit
 * @see definition of the units; the rounding: common practice, no source
 * @example speedText('mph', 13.4112) // "30.0 mph"
 * @example speedText('kmh', 159.96 / 3.6, [160 / 3.6]) // "159.96 km/h"
 */
export function speedText(unit: SpeedUnit, speedMPerS: number, among: readonly number[] = []): string {
  const [value, ...others] = [speedMPerS, ...among].map((speed) => fromSi('speed', unit, speed))
  return `${value!.toFixed(decimalsApart([value!, ...others], 1))} ${unit === 'mph' ? 'mph' : 'km/h'}`
}

/**
 * Text of a percentage in findings and remedies.
 *
 *     100 · f, to 0.1, or to as many decimals as distinguish it from zero and from the other percentages in the text
 *
 * @param fraction - f
 * @param among - Fractions that the text compares; pass the same list for each of them
 * @returns Number and percent sign
 * @see definition of percent; the rounding: common practice, no source
 * @example percentText(0.0304) // "3.0 %"
 * @example percentText(0.0402, [0.04]) // "4.02 %"
 * @example percentText(0.0003) // "0.03 %"
 */
export function percentText(fraction: number, among: readonly number[] = []): string {
  const percents = [fraction, ...among, 0].map((share) => 100 * share)
  return `${percents[0]!.toFixed(decimalsApart(percents, 1))} %`
}

/** Probabilities at which a verdict changes; rounding must not move a probability across them. */
const DECIDING = [1 - PROVEN, PROVEN]

/**
 * Text of a probability in findings.
 *
 *     p, to the minimum number of decimals, or to as many as distinguish it from the levels at which a verdict changes
 *
 * @param probability - p [0 .. 1]
 * @param minDecimals - Minimum number of decimals
 * @returns The number
 * @see JCGM 106:2012, 8 (decision rules); the rounding: common practice, no source
 * @example probabilityText(0.9496, 2) // "0.9496"
 * @example probabilityText(0.2, 2) // "0.20"
 */
export const probabilityText = (probability: number, minDecimals: number) =>
  probability.toFixed(decimalsApart([probability, ...DECIDING], minDecimals))
