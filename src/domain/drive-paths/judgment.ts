/** Range of errors aimed for: indicated over true, minus one. */
export interface Aim {
  readonly minFraction: number
  readonly maxFraction: number
  /** Contribution of the head's offset to the error at the judged speeds; default: none. */
  readonly offset?: OffsetRange
}

/** Offset over true speed, the minimum and the maximum over the judged speeds. */
export interface OffsetRange {
  readonly minFraction: number
  readonly maxFraction: number
}

/** Errors of a reading over the judged speeds: indicated over true, minus one. */
export interface ErrorRange {
  readonly lowestFraction: number
  readonly highestFraction: number
  /** The lowest error minus the guard band for its uncertainty; default: no guard band. */
  readonly guardedFraction?: number
}

export interface AimJudgment {
  /** Errors of the reading, indicated over true minus one: the lowest, the highest, and the larger in magnitude. */
  readonly lowestFraction: number
  readonly highestFraction: number
  readonly errorFraction: number
  /** How far the reading lies below the minimum of the aim, as a fraction of the true speed; 0: not below. */
  readonly shortFraction: number
  /** How far the reading lies above the maximum of the aim; 0: not above. */
  readonly overFraction: number
  readonly withinAim: boolean
}

/** Fractions that differ by less count as equal: rounding, including that of unit conversions. */
export const ROUNDING = 1e-9

/** The pointer rests on its stop at zero, so the error is never below -100 %. */
const STANDSTILL_FRACTION = -1

/**
 * Contribution of the offset of a head to its error over the judged speeds.
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
 * Judges the errors of a reading against an aim. All judgments against an aim use this function.
 *
 *     short = max(0, minimum of the aim − lowest error),  over = max(0, highest error − maximum of the aim)
 *
 * @param errors - Errors over the judged speeds; a guarded lowest error replaces the lowest one
 * @param aim - Errors aimed for
 * @returns The judgment; within the aim where neither short nor over
 * @see JCGM 106:2012, 8.3.2 (guard band)
 * @example judgeErrors({ lowestFraction: -0.01, highestFraction: 0.03 }, { minFraction: 0, maxFraction: 0.04 }).withinAim // false
 */
export function judgeErrors(errors: ErrorRange, aim: Pick<Aim, 'minFraction' | 'maxFraction'>): AimJudgment {
  const { lowestFraction, highestFraction, guardedFraction = lowestFraction } = errors
  const short = aim.minFraction - guardedFraction
  const over = highestFraction - aim.maxFraction
  // Rounding must not put an exact ratio outside an aim that ends at it.
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
 * @param aim - Errors aimed for, and the contribution of the offset
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

/** Minimum plausible slope of a dial: no slope compensates for an offset that would need less. */
const MIN_SLOPE = 0.1

/** The error within the aim that is nearest to zero. */
const nearestToZero = ({ minFraction, maxFraction }: Aim) => Math.min(maxFraction, Math.max(minFraction, 0))

/**
 * The slope of a dial with the best merit.
 *
 *     within the aim: t = 1 + c − (o_min + o_max)/2, kept within 1 + min − o_min .. 1 + max − o_max
 *     where the offset leaves no slope within the aim: t = 1 + max(−o_min, max − o_max), the minimum that never under-reads
 *     where t < 0.1, with an offset that makes up most of every reading: t = 1
 *
 * min and max are the ends of the aim, c is the error within it nearest to zero; o_min and o_max are the range that the offset adds at the judged speeds.
 *
 * @param aim - Errors aimed for, and the contribution of the offset
 * @returns t
 * @see derived, from the order of merit
 * @example bestSlope({ minFraction: 0, maxFraction: 0.04 }) // 1 ± 0
 * @example bestSlope({ minFraction: 0, maxFraction: 0.04, offset: { minFraction: -0.0918, maxFraction: -0.0459 } }) // 1.0918 ± 1e-12
 */
export function bestSlope(aim: Aim): number {
  const { minFraction, maxFraction } = aim.offset ?? { minFraction: 0, maxFraction: 0 }
  const lower = aim.minFraction - minFraction
  const upper = aim.maxFraction - maxFraction
  const best =
    lower > upper
      ? 1 + Math.max(-minFraction, upper)
      : 1 + Math.min(upper, Math.max(lower, nearestToZero(aim) - (minFraction + maxFraction) / 2))
  return best < MIN_SLOPE ? 1 : best
}

/** Order of merit of a candidate: its class, and its distance from the aim within the class; lower is better. */
export type Merit = readonly [number, number]

/**
 * Merit of a judged candidate: first those within the aim, nearest to true; then over-reading, then under-reading ones, nearest to the aim.
 *
 *     (0, max |e − c|)   (1, short + over)   (2, short + over)
 *
 * e is the lowest and the highest error, c the error within the aim that is nearest to zero.
 *
 * @param judgment - The candidate, judged
 * @param aim - Errors aimed for
 * @returns Class and distance
 * @see common practice, no source
 * @example meritOf(judgeSlope(0.99, { minFraction: 0, maxFraction: 0.04 }), { minFraction: 0, maxFraction: 0.04 })[0] // 2 ± 0
 */
export function meritOf(judgment: AimJudgment, aim: Aim): Merit {
  const { lowestFraction, highestFraction, shortFraction, overFraction, withinAim } = judgment
  if (withinAim) {
    const wanted = nearestToZero(aim)
    return [0, Math.max(Math.abs(lowestFraction - wanted), Math.abs(highestFraction - wanted))]
  }
  return [lowestFraction >= -ROUNDING ? 1 : 2, shortFraction + overFraction]
}
