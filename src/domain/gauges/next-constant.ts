import { judgeSlope, type OffsetRange, offsetRange } from '../drive-paths/judgment.js'
import { nearestRatios, ratioOfComputed } from '../measure/approximation.js'
import { exact, type Figure } from '../measure/figure.js'
import { product, quotient } from '../measure/propagation.js'
import { plusMinus } from '../measure/uncertainty.js'
import { judgedSpeeds, MAX_OVER_FRACTION, minSlopeNeverUnder } from '../vehicles/aim.js'

/**
 * Kind of adjustable number: the reading falls as a constant (turns or pulses per distance) rises, and rises with a scaler ratio.
 */
export type Setting = 'constant' | 'scaler-ratio'

/** Slope and offset of a dial as it is set now. */
export interface DialLine {
  readonly indicatedPerTrue: Figure
  readonly offsetMPerS: Figure
}

export interface NeverUnderSetting {
  readonly value: number
  /** Maximum over-reading with that setting, over the judged speeds [%]. */
  readonly overPercent: number
}

/**
 * The setting for a true reading, from the present setting and the factor found.
 *
 *     constant' = constant·b      ratio' = ratio/b
 *
 * b is indicated ÷ true speed, or odometer ÷ true distance. Only the slope is corrected: an offset comes from the head and remains.
 *
 * @param setting - Kind of setting
 * @param now - Present setting; unit of the answer
 * @param factor - b, with that setting
 * @returns The value for a true reading
 * @throws {DomainError} `not-finite`
 * @see EU 165/2014, Annex I (indicated over true is w/k)
 * @example settingForTrue('constant', exact(1000), exact(1.05)).value // 1050 ± 1e-9
 * @example settingForTrue('scaler-ratio', exact(0.5), exact(1.25)).value // 0.4 ± 1e-12
 */
export function settingForTrue(setting: Setting, now: Figure, factor: Figure): Figure {
  return setting === 'constant' ? product(now, factor) : quotient(now, factor)
}

/**
 * The setting at which the dial under-reads with a probability of at most 5 % at every judged speed, with its present offset.
 *
 *     constant' = constant·b/t      ratio' = ratio·t/b      t = max (V − a + z·u(t·V + a))/V
 *
 * b is the slope of the dial, a its offset, V a judged speed; t is the minimum slope without under-reading, z = 1.65 for a probability of at most 5 %.
 *
 * @param setting - Kind of setting
 * @param now - Present setting; unit of the answer
 * @param line - Slope and offset of the dial with that setting
 * @param speedsMPerS - Round true speeds of the dial, at least one; judged from 20 km/h up. [m/s, > 0]
 * @returns The setting and its maximum over-reading, or undefined where the uncertainty of the slope is too large for any setting
 * @throws {DomainError} `not-finite`
 * @see JCGM 106:2012, 8.3.2 (guard band)
 * @example settingNeverUnder('constant', exact(1000), { indicatedPerTrue: exact(1), offsetMPerS: exact(-1) }, [10, 20]).value // 847.4576 ± 1e-4
 * @example settingNeverUnder('constant', exact(1000), { indicatedPerTrue: exact(1), offsetMPerS: exact(-1) }, [10, 20]).overPercent // 13 ± 1e-9
 */
export function settingNeverUnder(
  setting: Setting,
  now: Figure,
  line: DialLine,
  speedsMPerS: readonly number[],
): NeverUnderSetting | undefined {
  // The uncertainty of the present setting carries over to the slope that another setting gives.
  const indicatedPerTrue = product(line.indicatedPerTrue, quotient(now, exact(now.value)))
  const minSlope = minSlopeNeverUnder({ indicatedPerTrue, offsetMPerS: line.offsetMPerS }, speedsMPerS)
  if (minSlope === undefined) return undefined
  const factor = line.indicatedPerTrue.value / minSlope
  const highest = offsetRange(line.offsetMPerS.value, judgedSpeeds(speedsMPerS)).maxFraction
  return {
    value: setting === 'constant' ? now.value * factor : now.value / factor,
    overPercent: 100 * (minSlope - 1 + highest),
  }
}

/** Maximum number of scaler settings listed. */
const MAX_SETTINGS = 12

/** Whole numbers for a scaler. */
export interface ScalerSetting {
  readonly numerator: number
  readonly denominator: number
  /** Largest remaining error over the judged speeds, as a fraction. */
  readonly errorFraction: number
}

/**
 * Whole numbers for a scaler that bring it near a ratio, nearest first.
 *
 *     −min(U/r, 4 %) <= (n/d)/r − 1 <= 4 %, and the nearest n/d whatever its error
 *
 * n/d is a setting, r the ratio wanted, U its expanded uncertainty: a ratio below that is known to under-read, one more than 4 % above is outside the aim.
 *
 * @param wanted - r, with its uncertainty. [> 0]
 * @param maxTerm - Maximum whole number of the scaler. [1 .. 1e9]
 * @param offset - Contribution of the dial's offset to its error, as fractions; zeros for the odometer
 * @returns Settings with their remaining error, at least one, at most twelve
 * @throws {DomainError} `out-of-range`
 * @see Khinchin, Continued Fractions, theorems 15 to 17; the limits: common practice, no source
 * @example nearSettings(uncertain(56 / 93, 'b', 0.003), 99, { minFraction: 0, maxFraction: 0 }).map(({ denominator }) => denominator) // [93,88,5]
 * @example nearSettings(exact(0.6), 99, { minFraction: 0, maxFraction: 0 }).map(({ denominator }) => denominator) // [5]
 */
export function nearSettings(wanted: Figure, maxTerm: number, offset: OffsetRange): ScalerSetting[] {
  const under = Math.min(plusMinus(wanted) / wanted.value, MAX_OVER_FRACTION)
  const aim = { minFraction: 0, maxFraction: MAX_OVER_FRACTION, offset }
  return nearestRatios(ratioOfComputed(wanted.value), maxTerm)
    .filter(
      ({ relativeError }, index) =>
        index === 0 || (relativeError >= -under && relativeError <= MAX_OVER_FRACTION),
    )
    .slice(0, MAX_SETTINGS)
    .map(({ numerator, denominator, relativeError }) => ({
      numerator,
      denominator,
      errorFraction: judgeSlope(1 + relativeError, aim).errorFraction,
    }))
}
