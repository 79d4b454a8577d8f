import Fraction from 'fraction.js'
import { DomainError } from '../errors.js'
import { exact, type Figure } from './figure.js'

/** A ratio of whole numbers, kept exact: products of tooth counts never lose a digit. */
export type ExactRatio = Fraction

/**
 * Exact ratio of two whole numbers.
 *
 *     r = numerator / denominator
 *
 * @param numerator - Whole number >= 1
 * @param denominator - Whole number >= 1
 * @returns r in lowest terms
 * @throws {DomainError} `out-of-range` for anything but whole numbers from 1
 * @see EU 165/2014, Annex I (k, w and l are ratios of counts)
 * @example ratioOf(14, 40).toFraction() // "7/20"
 */
export function ratioOf(numerator: number, denominator: number): ExactRatio {
  for (const [name, value] of [
    ['numerator', numerator],
    ['denominator', denominator],
  ] as const) {
    if (!Number.isSafeInteger(value) || value < 1) {
      throw new DomainError('out-of-range', `${name}: expected a whole number from 1, got ${value}`, {
        name,
        value,
      })
    }
  }
  return new Fraction(numerator, denominator)
}

/**
 * Exact ratio of a decimal number, digit by digit: 3.7 is 37/10, not the nearest binary number.
 *
 *     r = digits / 10ⁿ
 *
 * @param value - Decimal number. [1e-6 .. 1e15]
 * @returns r in lowest terms
 * @throws {DomainError} `out-of-range`
 * @see ECMA-262, Number::toString (shortest decimal that reads back as the number)
 * @example ratioOfDecimal(3.7).mul(ratioOf(7, 20)).toFraction() // "259/200"
 */
export function ratioOfDecimal(value: number): ExactRatio {
  if (!(value >= 1e-6 && value <= 1e15)) {
    throw new DomainError('out-of-range', `value: expected 1e-6 to 1e15, got ${value}`, {
      name: 'value',
      value,
    })
  }
  return new Fraction(String(value))
}

/**
 * The figure of an exact ratio.
 *
 *     y = numerator / denominator, u(y) = 0
 *
 * @param ratio - Exact ratio
 * @returns Figure without uncertainty
 * @see JCGM 100:2008, 4.3.1
 * @example figureOfRatio(ratioOf(1, 8)).value // 0.125 ± 0
 */
export function figureOfRatio(ratio: ExactRatio): Figure {
  return exact(ratio.valueOf())
}
