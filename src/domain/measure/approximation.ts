import { DomainError } from '../errors.js'
import { type ExactRatio, ratioOfDecimal } from './ratio.js'

/** A ratio of two whole numbers near a target. */
export interface Approximation {
  readonly numerator: number
  readonly denominator: number
  /** Ratio over target, minus one. */
  readonly relativeError: number
}

/**
 * Partial quotients of the continued fraction of a ratio.
 *
 *     r = a₀ + 1/(a₁ + 1/(a₂ + …))
 *
 * @param target - Exact ratio > 0
 * @returns a₀, a₁, …; finite, since the ratio is one of whole numbers
 * @see Brocot, A. (1861), Calcul des rouages par approximation: 191/23 = [8; 3, 3, 2]
 * @example partialQuotients(ratioOf(191, 23)) // [8,3,3,2]
 */
export function partialQuotients(target: ExactRatio): number[] {
  const quotients: number[] = []
  let n = target.n
  let d = target.d
  while (d !== 0n) {
    quotients.push(Number(n / d))
    const rest = n % d
    n = d
    d = rest
  }
  return quotients
}

/**
 * Nearest ratios of whole numbers, none above a largest term: the convergents of the continued fraction, and the last
 * intermediate fractions that still fit.
 *
 *     hₖ = aₖ·hₖ₋₁ + hₖ₋₂,  kₖ = aₖ·kₖ₋₁ + kₖ₋₂; intermediate with m < aₖ in place of aₖ
 *
 * aₖ is the k-th partial quotient, m a whole number below it.
 *
 * The nearest fraction whose terms do not exceed the bound is always among them.
 *
 * @param target - Exact ratio > 0
 * @param maxTerm - Largest numerator and denominator. [1 .. 1e9]
 * @returns Fractions in lowest terms, nearest first, at least one
 * @throws {DomainError} `out-of-range` when even 1/maxTerm or maxTerm/1 is on the far side by a factor of two
 * @see Khinchin, Continued Fractions, theorems 15 to 17 (best approximations are convergents or intermediate fractions)
 * @example nearestRatios(ratioOf(1000, 879), 150)[0].numerator // 124 ± 0
 * @example nearestRatios(ratioOfDecimal(3.7), 40)[0].numerator // 37 ± 0
 */
export function nearestRatios(target: ExactRatio, maxTerm: number): Approximation[] {
  const bound = BigInt(Math.floor(maxTerm))
  const found: Array<readonly [bigint, bigint]> = []
  let [h2, k2, h1, k1] = [0n, 1n, 1n, 0n]
  for (const quotient of partialQuotients(target)) {
    let m = BigInt(quotient)
    const fits = (count: bigint) => count * h1 + h2 <= bound && count * k1 + k2 <= bound
    if (!fits(m)) {
      const byH = h1 === 0n ? m : (bound - h2) / h1
      const byK = k1 === 0n ? m : (bound - k2) / k1
      m = byH < byK ? byH : byK
      if (m > 0n) found.push([m * h1 + h2, m * k1 + k2])
      break
    }
    ;[h2, k2, h1, k1] = [h1, k1, m * h1 + h2, m * k1 + k2]
    found.push([h1, k1])
  }
  const value = target.valueOf()
  const usable = found.filter(([h, k]) => h > 0n && k > 0n)
  if (usable.length === 0) {
    throw new DomainError(
      'out-of-range',
      `maxTerm: no ratio of whole numbers up to ${maxTerm} comes near ${value}; give a larger one`,
      {
        maxTerm,
        value,
      },
    )
  }
  return usable
    .map(([h, k]) => ({ numerator: Number(h), denominator: Number(k), relativeError: errorOf(h, k, target) }))
    .sort((a, b) => Math.abs(a.relativeError) - Math.abs(b.relativeError) || a.denominator - b.denominator)
}

/** (h/k)/target − 1 from exact integers: the difference of two near ratios would lose its digits in floating point. */
function errorOf(h: bigint, k: bigint, target: ExactRatio): number {
  const difference = h * target.d - k * target.n
  return Number(difference) / Number(k * target.n)
}

/**
 * An exact ratio for a floating number that came out of a computation.
 *
 *     r = value to 15 significant digits
 *
 * @param value - Number > 0. [1e-6 .. 1e15]
 * @returns The ratio
 * @throws {DomainError} `out-of-range`
 * @see IEEE 754 (15 decimal digits survive a binary double)
 * @example ratioOfComputed(0.1 + 0.2).toFraction() // "3/10"
 */
export function ratioOfComputed(value: number): ExactRatio {
  return ratioOfDecimal(Number(value.toPrecision(15)))
}
