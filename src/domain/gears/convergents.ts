import { partialQuotients } from '../measure/approximation.js'
import type { ExactRatio } from '../measure/ratio.js'

/** A convergent of the continued fraction of a ratio. */
export interface Convergent {
  readonly partialQuotient: number
  readonly numerator: number
  readonly denominator: number
  readonly relativeError: number
}

/**
 * Convergents of the continued fraction of a ratio, coarsest first.
 *
 *     hₖ = aₖ·hₖ₋₁ + hₖ₋₂,   kₖ = aₖ·kₖ₋₁ + kₖ₋₂
 *
 * hₖ/kₖ is convergent k, aₖ the k-th partial quotient, a whole number.
 *
 * Each is closer to the ratio than any fraction with smaller terms. The last equals the ratio unless a term would exceed `maxTerm`.
 *
 * @param target - Exact ratio > 0
 * @param maxTerm - Largest numerator and denominator. [1 .. 1e12]
 * @returns Convergents, without the leading 0/1 of a ratio below one
 * @see Brocot, A. (1861), Calcul des rouages par approximation; Khinchin, Continued Fractions, theorems 15 to 17
 * @example convergents(ratioOf(191, 23), 1000).map(({ numerator, denominator }) => `${numerator}/${denominator}`) // ["8/1","25/3","83/10","191/23"]
 */
export function convergents(target: ExactRatio, maxTerm: number): Convergent[] {
  const bound = BigInt(Math.floor(maxTerm))
  const found: Convergent[] = []
  let [h2, k2, h1, k1] = [0n, 1n, 1n, 0n]
  for (const quotient of partialQuotients(target)) {
    const a = BigInt(quotient)
    ;[h2, k2, h1, k1] = [h1, k1, a * h1 + h2, a * k1 + k2]
    if (h1 > bound || k1 > bound) break
    if (h1 === 0n) continue
    const wanted = k1 * target.n
    found.push({
      partialQuotient: quotient,
      numerator: Number(h1),
      denominator: Number(k1),
      relativeError: Number(h1 * target.d - wanted) / Number(wanted),
    })
  }
  return found
}
