import { DomainError } from '../errors.js'
import {
  type ExactRatio,
  figureOfRatio,
  lowestTerms,
  type RatioInTerms,
  wholeRatioOfDecimal,
} from './ratio.js'

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
 * @returns a₀, a₁, …; finite, since the ratio is rational
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
 * Nearest ratios of whole numbers with a maximum term: the convergents of the continued fraction, and the last
 * intermediate fractions within the bound.
 *
 *     hₖ = aₖ·hₖ₋₁ + hₖ₋₂,  kₖ = aₖ·kₖ₋₁ + kₖ₋₂; intermediate with m < aₖ in place of aₖ
 *
 * aₖ is the k-th partial quotient, m a whole number below it.
 *
 * The nearest fraction whose terms do not exceed the bound is always among them.
 *
 * @param target - Exact ratio > 0
 * @param maxTerm - Maximum numerator and denominator. [1 .. 1e9]
 * @returns Fractions in lowest terms, nearest first, at least one
 * @throws {DomainError} `out-of-range` when even 1/maxTerm or maxTerm/1 misses the target by a factor of two
 * @see Khinchin, Continued Fractions, theorems 15 to 17 (best approximations are convergents or intermediate fractions)
 * @example nearestRatios(ratioOf(1000, 879), 150)[0].numerator // 124 ± 0
 * @example nearestRatios(ratioOfDecimal(3.7), 40)[0].numerator // 37 ± 0
 */
export function nearestRatios(target: RatioInTerms, maxTerm: number): Approximation[] {
  const bound = Math.floor(maxTerm)
  const { n, d } = lowestTerms(target)
  const whole = Number(n)
  const found: Approximation[] = []
  let [h2, k2, h1, k1] = [0, 1, 1, 0]
  /** Maximum part of a quotient within the bound. */
  const admitted = (quotient: number) =>
    Math.min(
      quotient,
      h1 === 0 ? quotient : Math.floor((bound - h2) / h1),
      k1 === 0 ? quotient : Math.floor((bound - k2) / k1),
    )
  const take = (m: number, difference: number) => {
    if (m === 0 && found.length > 0) return
    ;[h2, k2, h1, k1] = [h1, k1, m * h1 + h2, m * k1 + k2]
    if (h1 > 0 && k1 > 0)
      found.push({ numerator: h1, denominator: k1, relativeError: difference / (k1 * whole) })
  }
  // The remainders of Euclid's algorithm, with alternating signs, are h·d − k·n; computing the difference of two near ratios
  // in floating point would lose its digits. They shrink; remainders too large for a double are held as BigInt.
  let [earlier, later] = [-Number(n), Number(d)]
  if (typeof n === 'bigint') {
    let [before, last] = [-n, d as bigint]
    while (last !== 0n && !(isSafe(before) && isSafe(last))) {
      const rest = before % last
      const quotient = Number((rest - before) / last)
      const m = admitted(quotient)
      take(m, Number(BigInt(m) * last + before))
      if (m < quotient) last = 0n
      else [before, last] = [last, rest]
    }
    ;[earlier, later] = [Number(before), Number(last)]
  }
  while (later !== 0) {
    const rest = earlier % later
    const quotient = (rest - earlier) / later
    const m = admitted(quotient)
    take(m, m * later + earlier)
    if (m < quotient) break
    ;[earlier, later] = [later, rest]
  }
  if (found.length === 0) {
    const { value } = figureOfRatio(target)
    throw new DomainError(
      'out-of-range',
      `maxTerm: no ratio of whole numbers up to ${maxTerm} is near ${value}; give a larger maxTerm`,
      { maxTerm, value },
    )
  }
  return found.sort(
    (a, b) => Math.abs(a.relativeError) - Math.abs(b.relativeError) || a.denominator - b.denominator,
  )
}

const isSafe = (whole: bigint) => whole <= Number.MAX_SAFE_INTEGER && whole >= -Number.MAX_SAFE_INTEGER

/**
 * An exact ratio for a computed floating-point number.
 *
 *     r = value to 15 significant digits
 *
 * @param value - Number > 0. [1e-6 .. 1e15]
 * @returns The ratio
 * @throws {DomainError} `out-of-range`
 * @see IEEE 754 (15 decimal digits survive a binary double)
 * @example ratioOfComputed(0.1 + 0.2) // {"numerator":3,"denominator":10}
 */
export function ratioOfComputed(value: number): RatioInTerms {
  return wholeRatioOfDecimal(Number(value.toPrecision(15)))
}
