import { judgeSlope, type OffsetRange, offsetRange } from '../drive-paths/judgment.js'
import { nearestRatios, ratioOfComputed } from '../measure/approximation.js'
import { exact, type Figure, plusMinus, product, quotient } from '../measure/figure.js'
import { judgedSpeeds, MAX_OVER_FRACTION, minSlopeNeverUnder } from '../vehicles/aim.js'

/**
 * How the reading answers to the number that can be set: it falls as a constant (turns or pulses per distance) is raised,
 * and rises with a scaler ratio.
 */
export type Setting = 'constant' | 'scaler-ratio'

/** Slope and offset of a dial as it is set now. */
export interface DialLine {
  readonly indicatedPerTrue: Figure
  readonly offsetMPerS: Figure
}

export interface NeverUnderSetting {
  readonly value: number
  /** By how much the dial then reads over, at the judged speed where that is most [%]. */
  readonly overPercent: number
}

/**
 * The number to set next for a true reading, from the one that is set now and the factor found.
 *
 *     constant' = constant·b      ratio' = ratio/b
 *
 * b is what is indicated per true speed, or recorded per true distance. It corrects the slope only: an offset is of the head and stays.
 *
 * @param setting - What can be set
 * @param now - What is set now; unit of the answer
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
 * The number to set so that the dial reads under at no judged speed with a probability above 5 %, its offset as it is.
 *
 *     constant' = constant·b/t      ratio' = ratio·t/b      t = max (V − a + z·u(t·V + a))/V
 *
 * b is the slope of the dial, a its offset, V a judged speed; t is the least slope that is hardly ever under, z = 1.65 for a probability of 5 % at most.
 *
 * @param setting - What can be set
 * @param now - What is set now; unit of the answer
 * @param line - Slope and offset of the dial with that setting
 * @param speedsMPerS - Round true speeds of the dial, at least one; judged from 20 km/h up. [m/s, > 0]
 * @returns The value and by how much the dial then reads over, or undefined where the slope is known too badly for any
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
  // What is unsure about the number that is set now is unsure about the slope that another one gives.
  const indicatedPerTrue = product(line.indicatedPerTrue, quotient(now, exact(now.value)))
  const least = minSlopeNeverUnder({ indicatedPerTrue, offsetMPerS: line.offsetMPerS }, speedsMPerS)
  if (least === undefined) return undefined
  const factor = line.indicatedPerTrue.value / least
  const highest = offsetRange(line.offsetMPerS.value, judgedSpeeds(speedsMPerS)).maxFraction
  return {
    value: setting === 'constant' ? now.value * factor : now.value / factor,
    overPercent: 100 * (least - 1 + highest),
  }
}

/** Most settings of a scaler that are named. */
const MAX_SETTINGS = 12

/** Whole numbers for a scaler. */
export interface ScalerSetting {
  readonly numerator: number
  readonly denominator: number
  /** Error of what was to be set right, at the judged speed where it is farthest from none, as a fraction. */
  readonly errorFraction: number
}

/**
 * Whole numbers for a scaler that bring it near a ratio, nearest first.
 *
 *     −min(U/r, 4 %) <= (n/d)/r − 1 <= 4 %, and the nearest n/d whatever its error
 *
 * n/d is a setting, r the ratio wanted, U its expanded uncertainty: what lies farther under than that is known to under-read, and more over than 4 % is outside the aim.
 *
 * @param wanted - r, with its uncertainty. [> 0]
 * @param maxTerm - Largest whole number that the scaler takes. [1 .. 1e9]
 * @param offset - What the offset of the dial adds to its error, as fractions; zeros for the odometer
 * @returns Settings with the error that each leaves, at least one, at most twelve
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
