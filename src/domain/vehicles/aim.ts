import { type AimJudgment, judgeErrors, ROUNDING } from '../drive-paths/judgment.js'
import { type DialLine, guardOf, indicatedMPerS, type Reading } from '../drive-paths/path.js'
import { probabilityBeyond } from '../measure/conformity.js'
import type { Figure } from '../measure/figure.js'
import { reachBelow } from '../measure/spread.js'
import { spreadOf } from '../measure/uncertainty.js'
import { toSi } from '../measure/units.js'

/** Aim of a remedy: over-read by at most 4 %, never under-read. */
export const MAX_OVER_FRACTION = 0.04
const REMEDY_AIM = { minFraction: 0, maxFraction: MAX_OVER_FRACTION }

/** A reading off by more than this factor points to an input error in the profile: no wear, tire or meshing gear explains it; common practice, no source. */
export const INPUT_ERROR_FACTOR = 1.5

/** Minimum speed for judging under-reading, where rules that forbid it start (StVZO 57: 20 km/h). [m/s] */
const UNDER_READ_FROM_M_PER_S = toSi('speed', 'kmh', 20)

/** One-sided 95 % quantile of the normal distribution: "never under-reads" means with a probability of at most 5 %. */
const Z_ONE_SIDED_95 = 1.6448536269514722

/** The quantile aimed for: slightly more, so that neither rounding nor the far tail defeats it. */
const Z_AIMED = 1.65

/** Maximum share of the slope for a guard band; beyond it no slope rules out under-reading. */
const MAX_GUARD_SHARE = 0.9

/** Maximum iterations for the guard band to converge: each reduces the error at least to `MAX_GUARD_SHARE` of it, 0.9^200 = 7e-10. */
const MAX_ROUNDS = 200

/**
 * Speeds at which a dial is judged: 20 km/h and the round speeds of the dial above it, so that the unit of the dial makes no difference; all
 * round speeds where none reaches 20 km/h.
 *
 *     V ≥ 20 km/h
 *
 * @param speedsMPerS - Round true speeds of the dial, ascending. [m/s]
 * @returns The judged speeds [m/s], which are their own judged speeds
 * @see StVZO 57 (no under-reading from 20 km/h)
 * @example judgedSpeeds([4, 8])[0] // 5.5556 ± 1e-4
 */
export function judgedSpeeds(speedsMPerS: readonly number[]): readonly number[] {
  const first = speedsMPerS.findIndex((speed) => speed >= UNDER_READ_FROM_M_PER_S)
  if (first === -1) return speedsMPerS
  const isFrom = speedsMPerS[first]! <= UNDER_READ_FROM_M_PER_S * (1 + ROUNDING)
  if (isFrom) return first === 0 ? speedsMPerS : speedsMPerS.slice(first)
  return [UNDER_READ_FROM_M_PER_S, ...speedsMPerS.slice(first)]
}

/**
 * Factor by which a dial is off, in either direction.
 *
 *     f = max(b, 1/b)
 *
 * @param slope - b, indicated over true. [> 0]
 * @returns f, 1 for a true dial
 * @see definition of the reading
 * @example factorOff(0.25) // 4 ± 0
 */
export function factorOff(slope: number): number {
  return Math.max(slope, 1 / slope)
}

/**
 * Probability that a dial under-reads, at its worst judged speed.
 *
 *     p = max over V of P(y < V)
 *
 * @param reading - What the dial shows at a true speed, with its standard uncertainty
 * @param speedsMPerS - Round true speeds of the dial, at least one. [m/s, > 0]
 * @returns p, and the speed at which it is reached [m/s]; 0 where p is 0
 * @throws {DomainError} `not-finite`
 * @see JCGM 106:2012, 7.4
 * @example underReading(readingOf({ indicatedPerTrue: uncertain(1, 'tire', 0.01), offsetMPerS: exact(0) }), [10, 20]).probability // 0.5 ± 1e-9
 */
export function underReading(
  reading: (trueMPerS: number) => Reading,
  speedsMPerS: readonly number[],
): { readonly probability: number; readonly atMPerS: number } {
  let worst = { probability: 0, atMPerS: 0 }
  for (const trueMPerS of judgedSpeeds(speedsMPerS)) {
    const { unstoppedMPerS, spread } = reading(trueMPerS)
    const probability = probabilityBeyond('below', unstoppedMPerS - trueMPerS, spread, unstoppedMPerS)
    // Among equally bad speeds the lowest is reported, whatever the rounding.
    if (probability > worst.probability + ROUNDING) worst = { probability, atMPerS: trueMPerS }
  }
  return worst
}

/**
 * Judges a reading against the aim: at every judged speed over-read by at most 4 %, and under-read with a probability of at most 5 %.
 *
 *     e = y/V − 1      short = max(g(y)/V − e),  over = max(e − 4 %)
 *
 * g is how far the reading may lie below its estimate with a probability above 5 %: 1.645·u where it is normal.
 *
 * Over-reading counts by the best estimate, under-reading by its probability: one is a nuisance, the other a danger.
 *
 * @param line - Slope and offset of the dial
 * @param speedsMPerS - Its round true speeds, at least one. [m/s, > 0]
 * @returns The judgment
 * @see JCGM 106:2012, 8.3.2 (guard band); the aim: common practice, no source
 * @example judgeReading({ indicatedPerTrue: exact(1.03), offsetMPerS: exact(0) }, [10, 20]).withinAim // true
 * @example judgeReading({ indicatedPerTrue: uncertain(1, 'tire', 0.01), offsetMPerS: exact(0) }, [10, 20]).withinAim // false
 */
export function judgeReading(line: DialLine, speedsMPerS: readonly number[]): AimJudgment {
  const guard = guardOf(line, Z_ONE_SIDED_95)
  let lowestFraction = Number.POSITIVE_INFINITY
  let highestFraction = Number.NEGATIVE_INFINITY
  let guardedFraction = Number.POSITIVE_INFINITY
  for (const trueMPerS of judgedSpeeds(speedsMPerS)) {
    const error = indicatedMPerS(line, trueMPerS) / trueMPerS - 1
    lowestFraction = Math.min(lowestFraction, error)
    highestFraction = Math.max(highestFraction, error)
    guardedFraction = Math.min(guardedFraction, error - guard(trueMPerS) / trueMPerS)
  }
  return judgeErrors({ lowestFraction, highestFraction, guardedFraction }, REMEDY_AIM)
}

/** Guard band as a share of the slope; the same for every slope. */
const guardShare = (slope: Figure) => reachBelow(spreadOf(slope), Z_AIMED) / slope.value

/**
 * Minimum slope at which a dial under-reads with a probability of at most 5 %, for its present offset and relative uncertainty of slope.
 *
 *     t = max (V − a + g(t·V + a))/V
 *
 * a is the offset of the dial, g how far its reading may lie below the estimate with a probability above 5 %, 1.65·u where it is normal, at each
 * judged speed V.
 *
 * @param line - Slope and offset of the dial
 * @param speedsMPerS - Its round true speeds, at least one. [m/s, > 0]
 * @returns t, or undefined where the uncertainty is so large that no slope rules out under-reading
 * @throws {DomainError} `not-finite`
 * @see JCGM 106:2012, 8.3.2 (guard band)
 * @example minSlopeNeverUnder({ indicatedPerTrue: uncertain(1, 'tire', 0.01), offsetMPerS: exact(0) }, [10]) // 1.016777 ± 1e-6
 * @example minSlopeNeverUnder({ indicatedPerTrue: exact(1), offsetMPerS: exact(-1) }, [10, 20]) // 1.18 ± 1e-12
 */
export function minSlopeNeverUnder(line: DialLine, speedsMPerS: readonly number[]): number | undefined {
  const slope = line.indicatedPerTrue
  const a = line.offsetMPerS.value
  if (guardShare(slope) >= MAX_GUARD_SHARE) return undefined
  const judged = judgedSpeeds(speedsMPerS)
  let slopeNeeded = 1
  for (let round = 0; round < MAX_ROUNDS; round++) {
    const guard = guardOf(line, Z_AIMED, slopeNeeded / slope.value)
    let next = Number.NEGATIVE_INFINITY
    for (const speed of judged) next = Math.max(next, 1 + (guard(speed) - a) / speed)
    const converged = Math.abs(next - slopeNeeded) < ROUNDING
    slopeNeeded = next
    if (converged) break
  }
  return slopeNeeded
}

/**
 * Range of slopes at which the readings of a dial lie within the aim, for its present offset and relative uncertainty of slope.
 *
 *     min: t = max (V − a + g(t·V + a))/V      max: t = min 1.04 − a/V
 *
 * a is the offset of the dial, g how far its reading may lie below the estimate with a probability above 5 %: 1.65·u where it is normal.
 *
 * Where no slope is within the aim, because the offset or the uncertainty is too large, the minimum is that of a dial without offset.
 *
 * @param line - Slope and offset of the dial
 * @param speedsMPerS - Its round true speeds, at least one. [m/s, > 0]
 * @returns Minimum and maximum slope, min ≤ max
 * @throws {DomainError} `not-finite`
 * @see JCGM 106:2012, 8.3.2 (guard band)
 * @example slopesWithinAim({ indicatedPerTrue: exact(1.3), offsetMPerS: exact(0.1) }, [10, 20]).min // 0.995 ± 1e-12
 * @example slopesWithinAim({ indicatedPerTrue: uncertain(1, 'tire', 0.01), offsetMPerS: exact(0) }, [10]).min // 1.016777 ± 1e-6
 */
export function slopesWithinAim(
  line: DialLine,
  speedsMPerS: readonly number[],
): { readonly min: number; readonly max: number } {
  const a = line.offsetMPerS.value
  let max = Number.POSITIVE_INFINITY
  for (const speed of judgedSpeeds(speedsMPerS)) max = Math.min(max, 1 + MAX_OVER_FRACTION - a / speed)
  const min = minSlopeNeverUnder(line, speedsMPerS)
  if (min !== undefined && min <= max) return { min, max }
  // Without an offset the guard band is a share of the slope; beyond nine tenths no slope helps.
  const bare = 1 / (1 - Math.min(MAX_GUARD_SHARE, guardShare(line.indicatedPerTrue)))
  return { min: bare, max: Math.max(bare, 1 + MAX_OVER_FRACTION) }
}
