import { finite, within } from '../errors.js'
import { normalCdf } from './distributions.js'
import type { Figure } from './figure.js'
import { mirrored, probabilityBelow, type Spread } from './spread.js'
import { spreadOf } from './uncertainty.js'

export type ConformityResult = 'conforms' | 'does-not-conform' | 'not-proven'

/** Probability from which a statement counts as proven. */
export const PROVEN = 0.95

/** Relative rounding error allowed for: far above that of double precision in a chain of ratios, far below any measurement uncertainty. */
const ROUNDING = 1e-9

/**
 * Probability that a quantity lies inside its limits, given an estimate of it and the uncertainty of that estimate.
 *
 *     p = Φ((U − y)/u) − Φ((L − y)/u)
 *
 * With u = 0 the estimate is the quantity, and a value on a limit is inside; a value beyond it by no more than rounding (1e-9 of
 * it) counts as on the limit. A u as small as that counts as zero. A limit that a rule does not set is ±Infinity.
 *
 * @param y - Estimate, any unit
 * @param u - Standard uncertainty of the estimate, same unit. [>= 0]
 * @param lower - L, same unit, or -Infinity
 * @param upper - U, same unit, or Infinity
 * @returns p, 0 to 1
 * @throws {DomainError} `not-finite` for y or u, `out-of-range` for u below zero
 * @see JCGM 106:2012, 7.4 eq. (10) (normal distribution)
 * @example conformityProbability(10, 1, 8, 12) // 0.9545 ± 1e-4
 * @example conformityProbability(8, 0, 8, 12) // 1 ± 0
 * @example conformityProbability(0.1 + 0.2, 0, 0, 0.3) // 1 ± 0
 */
export function conformityProbability(y: number, u: number, lower: number, upper: number): number {
  finite('y', y)
  within('u', u, 0, Number.MAX_VALUE)
  const rounding = ROUNDING * Math.abs(y)
  if (u <= rounding) return y >= lower - rounding && y <= upper + rounding ? 1 : 0
  const below = lower === Number.NEGATIVE_INFINITY ? 0 : normalCdf((lower - y) / u)
  // Φ(−x) instead of 1 − Φ(x): keeps digits when both limits lie on one side.
  const above = upper === Number.POSITIVE_INFINITY ? 0 : normalCdf((y - upper) / u)
  return Math.max(0, 1 - below - above)
}

/**
 * Probability that a quantity lies beyond a limit, given its estimate and the spread about it.
 *
 *     P(E < −m) below, P(E > m) above,  m the margin of the estimate inside the limit
 *
 * Without spread the estimate is the quantity; beyond the limit by no more than rounding (1e-9 of it) it counts as on the limit, which is inside.
 *
 * @param side - Side of the limit
 * @param margin - m, below zero for an estimate beyond the limit; any unit
 * @param spread - E, same unit
 * @param estimate - The estimate, which scales the rounding allowed; same unit
 * @returns Probability, 0 to 1
 * @throws {DomainError} `not-finite`
 * @see JCGM 106:2012, 7.4 eq. (10); for other than normal distributions 7.2
 * @example probabilityBeyond('below', 1.6448536, spreadFrom(1, []), 10) // 0.05 ± 1e-6
 * @example probabilityBeyond('above', 0, spreadFrom(0, []), 10) // 0 ± 0
 */
export function probabilityBeyond(
  side: 'below' | 'above',
  margin: number,
  spread: Spread,
  estimate: number,
): number {
  finite('margin', margin)
  const rounding = ROUNDING * Math.abs(estimate)
  if (spread.rectangles.length === 0 && spread.shift === 0 && spread.u <= rounding)
    return margin >= -rounding ? 0 : 1
  return side === 'below' ? probabilityBelow(spread, -margin) : probabilityBelow(mirrored(spread), -margin)
}

/**
 * Probability that a margin is not below zero.
 *
 *     p = P(m ≥ 0)
 *
 * m is a quantity less its lower limit, or an upper limit less the quantity; on the limit counts as inside, as in `probabilityBeyond`.
 *
 * @param margin - m, any unit
 * @param estimate - The quantity or its limit, which scales the rounding allowed; same unit
 * @returns p, 0 to 1
 * @throws {DomainError} `not-finite`
 * @see JCGM 106:2012, 7.4 eq. (10)
 * @example marginProbability(uncertain(1.6448536, 'm', 1), 10) // 0.95 ± 1e-6
 * @example marginProbability(exact(0.3 - (0.1 + 0.2)), 0.3) // 1 ± 0
 */
export function marginProbability(margin: Figure, estimate: number): number {
  return 1 - probabilityBeyond('below', margin.value, spreadOf(margin), estimate)
}

/**
 * Result of a conformity assessment from the probability of conformity.
 *
 *     conforms: p ≥ 0.95;  does not conform: p ≤ 0.05;  else not proven
 *
 * @param probability - p, 0 to 1
 * @returns The outcome
 * @see JCGM 106:2012, 8 (decision rules; the level of 95 % is this service's choice)
 * @example conformityResult(0.5) // "not-proven"
 */
export function conformityResult(probability: number): ConformityResult {
  if (probability >= PROVEN) return 'conforms'
  return probability <= 1 - PROVEN ? 'does-not-conform' : 'not-proven'
}
