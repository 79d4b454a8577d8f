/** Errors wanted of a dial: indicated over true, less one. */
export interface Aim {
  readonly minFraction: number
  readonly maxFraction: number
  /** What the offset of the head adds to the error at the judged speeds; left out: nothing. */
  readonly offset?: OffsetRange
}

/** Offset over true speed, the minimum and the maximum over the judged speeds. */
export interface OffsetRange {
  readonly minFraction: number
  readonly maxFraction: number
}

/** Errors of a reading over the judged speeds: indicated over true, less one. */
export interface ErrorRange {
  readonly lowestFraction: number
  readonly highestFraction: number
  /** The lowest error once the guard band for its uncertainty is taken off; left out: no guard band. */
  readonly guardedFraction?: number
}

export interface AimJudgment {
  /** Errors of the reading, indicated over true less one: the least, the greatest, and the one farther from none. */
  readonly lowestFraction: number
  readonly highestFraction: number
  readonly errorFraction: number
  /** How far the reading lies below the least that is aimed at, as a fraction of the true speed; 0: nowhere. */
  readonly shortFraction: number
  /** How far the reading lies above the most that is aimed at; 0: nowhere. */
  readonly overFraction: number
  readonly withinAim: boolean
}

/** Fractions that differ by less are one: what rounding leaves of a computation, units changed included. */
export const ROUNDING = 1e-9

/** A pointer rests on its stop: no reading is farther below the true speed than by all of it. */
const STANDSTILL_FRACTION = -1

/**
 * What the offset of a head adds to its error over the judged speeds.
 *
 *     a/V, from its minimum to its maximum
 *
 * a is the offset of the head, V a judged true speed.
 *
 * @param offsetMPerS - a [m/s]
 * @param speedsMPerS - The judged speeds, at least one. [m/s, > 0]
 * @returns The range, as fractions of the true speed
 * @see derived: e = y/V − 1 with y = b·V + a
 * @example offsetRange(-1, [10, 20]).minFraction // -0.1 ± 1e-12
 */
export function offsetRange(offsetMPerS: number, speedsMPerS: readonly number[]): OffsetRange {
  const shares = speedsMPerS.map((speed) => offsetMPerS / speed)
  return { minFraction: Math.min(...shares), maxFraction: Math.max(...shares) }
}

/**
 * How the errors of a reading lie to an aim. Every reading that is held against an aim is judged here.
 *
 *     short = max(0, minimum aimed at − lowest error),  over = max(0, highest error − maximum aimed at)
 *
 * @param errors - Errors over the judged speeds; a guarded lowest error stands in for the lowest one
 * @param aim - Errors wanted
 * @returns The judgment; within the aim where neither short nor over
 * @see JCGM 106:2012, 8.3.2 (guard band)
 * @example judgeErrors({ lowestFraction: -0.01, highestFraction: 0.03 }, { minFraction: 0, maxFraction: 0.04 }).withinAim // false
 */
export function judgeErrors(errors: ErrorRange, aim: Pick<Aim, 'minFraction' | 'maxFraction'>): AimJudgment {
  const { lowestFraction, highestFraction, guardedFraction = lowestFraction } = errors
  const short = aim.minFraction - guardedFraction
  const over = highestFraction - aim.maxFraction
  // A hair of rounding must not put an exact ratio outside an aim that ends at it.
  const shortFraction = short <= ROUNDING ? 0 : short
  const overFraction = over <= ROUNDING ? 0 : over
  return {
    lowestFraction,
    highestFraction,
    errorFraction: -lowestFraction > highestFraction ? lowestFraction : highestFraction,
    shortFraction,
    overFraction,
    withinAim: shortFraction === 0 && overFraction === 0,
  }
}

/**
 * Judgment of a dial of a given slope, by best estimates.
 *
 *     e(V) = b + a/V − 1
 *
 * b is the slope of the dial, indicated over true apart from the offset a.
 *
 * @param slope - b [> 0]
 * @param aim - Errors wanted, and what the offset adds
 * @returns The judgment
 * @see definition of the reading
 * @example judgeSlope(1.05, { minFraction: 0, maxFraction: 0.04, offset: { minFraction: -0.05, maxFraction: -0.01 } }).withinAim // true
 */
export function judgeSlope(slope: number, aim: Aim): AimJudgment {
  const error = slope - 1
  const { minFraction, maxFraction } = aim.offset ?? { minFraction: 0, maxFraction: 0 }
  return judgeErrors(
    {
      lowestFraction: Math.max(STANDSTILL_FRACTION, error + minFraction),
      highestFraction: Math.max(STANDSTILL_FRACTION, error + maxFraction),
    },
    aim,
  )
}

/** No dial answers to speed by less: an offset that asks for it is not made up for by a slope. */
const MIN_SLOPE = 0.1

/** The error in the aim that is nearest to none. */
const nearestToNone = ({ minFraction, maxFraction }: Aim) => Math.min(maxFraction, Math.max(minFraction, 0))

/**
 * Slope of a dial that comes best by the order of merit.
 *
 *     within the aim: t = 1 + c − (o_min + o_max)/2, kept within 1 + min − o_min .. 1 + max − o_max
 *     where the offset leaves no slope within the aim: t = 1 + max(−o_min, max − o_max), the least that never under-reads
 *     where t < 0.1, which an offset asks for that shows most of every speed by itself: t = 1
 *
 * min and max are the ends of the aim, c is the error in it nearest to none; o_min and o_max are what the offset adds at the judged speeds.
 *
 * @param aim - Errors wanted, and what the offset adds
 * @returns t
 * @see derived, from the order of merit
 * @example bestSlope({ minFraction: 0, maxFraction: 0.04 }) // 1 ± 0
 * @example bestSlope({ minFraction: 0, maxFraction: 0.04, offset: { minFraction: -0.0918, maxFraction: -0.0459 } }) // 1.0918 ± 1e-12
 */
export function bestSlope(aim: Aim): number {
  const { minFraction, maxFraction } = aim.offset ?? { minFraction: 0, maxFraction: 0 }
  const least = aim.minFraction - minFraction
  const most = aim.maxFraction - maxFraction
  const best =
    least > most
      ? 1 + Math.max(-minFraction, most)
      : 1 + Math.min(most, Math.max(least, nearestToNone(aim) - (minFraction + maxFraction) / 2))
  return best < MIN_SLOPE ? 1 : best
}

/** Order of merit of a candidate: its class, and within it how far it lies from what is wanted; less is better. */
export type Merit = readonly [number, number]

/**
 * Merit of a judged candidate: within the aim nearest to true, then over-reading, then under-reading, each nearest to the aim first.
 *
 *     (0, max |e − c|)   (1, short + over)   (2, short + over)
 *
 * e is the lowest and the highest error, c the error in the aim that is nearest to none.
 *
 * @param judgment - The candidate, judged
 * @param aim - Errors wanted
 * @returns Class and distance
 * @see common practice, no source
 * @example meritOf(judgeSlope(0.99, { minFraction: 0, maxFraction: 0.04 }), { minFraction: 0, maxFraction: 0.04 })[0] // 2 ± 0
 */
export function meritOf(judgment: AimJudgment, aim: Aim): Merit {
  const { lowestFraction, highestFraction, shortFraction, overFraction, withinAim } = judgment
  if (withinAim) {
    const wanted = nearestToNone(aim)
    return [0, Math.max(Math.abs(lowestFraction - wanted), Math.abs(highestFraction - wanted))]
  }
  return [lowestFraction >= -ROUNDING ? 1 : 2, shortFraction + overFraction]
}
