import { within } from '../errors.js'
import { contributionOf } from './budget.js'
import type { Figure } from './figure.js'
import { scaled } from './propagation.js'
import { standardUncertainty } from './uncertainty.js'

/**
 * A figure correlated with another one, such as two results of one fit.
 *
 *     r·u(y) comes from the inputs of x, in proportion to their share of u(x); √(1 − r²)·u(y) from its own inputs
 *
 * @param figure - y, based on inputs other than those of x
 * @param other - x
 * @param correlation - r(x, y). [-1..1]
 * @returns y with the same uncertainty and the correlation r with x; y unchanged if x has no uncertainty
 * @throws {DomainError} `not-finite`, `out-of-range` beyond -1..1
 * @see JCGM 100:2008, 5.2.2 eq. (14), H.3 (slope and intercept of one line)
 * @example plusMinus(correlated(uncertain(1, 'b', 3), uncertain(1, 'a', 1), -0.8)) // 6 ± 1e-12
 * @example plusMinus(sum(uncertain(1, 'a', 1), correlated(uncertain(1, 'b', 1), uncertain(1, 'a', 1), -1))) // 0 ± 1e-12
 */
export function correlated(figure: Figure, other: Figure, correlation: number): Figure {
  within('correlation', correlation, -1, 1)
  const uOther = standardUncertainty(other)
  if (uOther === 0) return figure
  const common = (correlation * standardUncertainty(figure)) / uOther
  const own = Math.sqrt(1 - correlation * correlation)
  return {
    value: figure.value,
    contributions: [...scaled(figure, own).contributions, ...scaled(other, common).contributions].filter(
      ({ part }) => part !== 0,
    ),
  }
}

/**
 * Correlation coefficient of two figures.
 *
 *     r(x, y) = Σᵢ cᵢ·dᵢ / (u(x)·u(y))
 *
 * cᵢ and dᵢ are the contributions of input i to x and to y.
 *
 * @param a - x
 * @param b - y
 * @returns r, -1..1; 0 if either has no uncertainty
 * @see JCGM 100:2008, 5.2.2 eq. (14), F.1.2.3 eq. (F.1) (figures based on the same inputs)
 * @example correlation(uncertain(1, 'a', 2), sum(uncertain(1, 'a', 3), uncertain(1, 'b', 4))) // 0.6 ± 1e-12
 */
export function correlation(a: Figure, b: Figure): number {
  const uBoth = standardUncertainty(a) * standardUncertainty(b)
  if (uBoth === 0) return 0
  let covariance = 0
  for (const { input, part } of a.contributions) covariance += part * contributionOf(b, input)
  return Math.max(-1, Math.min(1, covariance / uBoth))
}
