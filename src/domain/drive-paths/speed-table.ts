import type { RuleVerdict } from '../gauges/rule-verdicts.js'
import { COVERAGE_FACTOR, type Figure } from '../measure/figure.js'
import { halfWidth, widened } from '../measure/spread.js'
import { spreadOf } from '../measure/uncertainty.js'
import type { Mutable } from '../mutable.js'
import { type DriveSignal, type Reading, spreadAgainst } from './path.js'

/** A value with its uncertainty, 95 %. */
export interface Stated {
  readonly value: number
  readonly plusMinus: number
}

/** What happens at one true speed. */
export interface SpeedRow {
  readonly trueMPerS: Stated
  readonly indicatedMPerS?: Stated
  readonly errorMPerS?: Stated
  /** Indicated minus true, of true [%]. */
  readonly errorPercent?: number
  readonly rpmPerS?: Stated
  readonly frequencyHz?: Stated
  readonly verdicts?: readonly RuleVerdict[]
}

/** A true speed with its standard uncertainty [m/s]. */
export interface TrueSpeed {
  readonly trueMPerS: number
  readonly uTrueMPerS: number
}

/** A speed of a request is one input: its part is its uncertainty, of which a square could underflow. */
export const trueSpeed = ({ value, contributions }: Figure): TrueSpeed => ({
  trueMPerS: value,
  uTrueMPerS: contributions[0]?.part ?? 0,
})

/** What is known at one true speed. */
export interface RowParts extends TrueSpeed {
  readonly reading?: Reading
  readonly verdicts?: readonly RuleVerdict[]
  /** Turns or pulses per meter that reach the head. */
  readonly rate?: { readonly signal: DriveSignal; readonly perM: Figure }
}

function rateAt({ trueMPerS, uTrueMPerS }: TrueSpeed, perM: Figure): Stated {
  const ofPath = spreadOf(perM, trueMPerS)
  return {
    value: perM.value * trueMPerS,
    plusMinus: halfWidth(widened(ofPath, perM.value * uTrueMPerS)),
  }
}

/**
 * A row of a speed table.
 *
 *     error = y − V      error percent = 100·(y − V)/V      rate = perM·V
 *
 * y is the reading at the true speed V. The reading and its error depend on the same true speed: its uncertainty u_V contributes b·u_V to
 * the reading and (b − 1)·u_V to the error, b the slope of the dial.
 *
 * @param parts - True speed and its standard uncertainty [m/s]; reading, verdicts and rate where they are known
 * @returns The row, each quantity with its uncertainty, 95 %
 * @see JCGM 100:2008, 5.2.2 eq. (13)
 * @example speedRow({ trueMPerS: 20, uTrueMPerS: 0, rate: { signal: 'turns', perM: exact(0.6) } }).rpmPerS.value // 12 ± 1e-12
 */
export function speedRow(parts: RowParts): SpeedRow {
  const { trueMPerS, uTrueMPerS, reading, verdicts, rate } = parts
  const row: Mutable<SpeedRow> = { trueMPerS: { value: trueMPerS, plusMinus: COVERAGE_FACTOR * uTrueMPerS } }
  if (reading !== undefined) {
    const error = reading.indicatedMPerS - trueMPerS
    const [ofReading, ofError] = [spreadAgainst(reading, 0), spreadAgainst(reading, 1)]
    const plusMinus = halfWidth(ofReading)
    row.indicatedMPerS = { value: reading.indicatedMPerS, plusMinus }
    row.errorMPerS = { value: error, plusMinus: ofError === ofReading ? plusMinus : halfWidth(ofError) }
    row.errorPercent = (100 * error) / trueMPerS
  }
  if (rate?.signal === 'turns') row.rpmPerS = rateAt(parts, rate.perM)
  if (rate?.signal === 'pulses') row.frequencyHz = rateAt(parts, rate.perM)
  if (verdicts !== undefined && verdicts.length > 0) row.verdicts = verdicts
  return row
}
