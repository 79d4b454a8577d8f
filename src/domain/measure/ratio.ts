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
  checkTerm('numerator', numerator)
  checkTerm('denominator', denominator)
  return new Fraction(numerator, denominator)
}

function checkTerm(name: string, value: number): void {
  if (Number.isSafeInteger(value) && value >= 1) return
  throw new DomainError('out-of-range', `${name}: expected a whole number from 1, got ${value}`, {
    name,
    value,
  })
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
  checkDecimal(value)
  return new Fraction(String(value))
}

function checkDecimal(value: number): void {
  if (value >= 1e-6 && value <= 1e15) return
  throw new DomainError('out-of-range', `value: expected 1e-6 to 1e15, got ${value}`, {
    name: 'value',
    value,
  })
}

/** A ratio of whole numbers that doubles hold, in any terms: their quotient is the value, correctly rounded, for a fraction of the cost. */
export interface WholeRatio {
  readonly numerator: number
  readonly denominator: number
}

/** A ratio in whole numbers: in doubles where they hold it, else of any size. */
export type RatioInTerms = WholeRatio | ExactRatio

const isWhole = (ratio: RatioInTerms): ratio is WholeRatio => 'numerator' in ratio

/**
 * Ratio of two whole numbers, as it is given.
 *
 *     r = numerator / denominator
 *
 * @param numerator - Whole number >= 1
 * @param denominator - Whole number >= 1
 * @returns r, in these terms
 * @throws {DomainError} `out-of-range` for anything but whole numbers from 1
 * @see EU 165/2014, Annex I (k, w and l are ratios of counts)
 * @example wholeRatio(14, 40) // {"numerator":14,"denominator":40}
 */
export function wholeRatio(numerator: number, denominator: number): WholeRatio {
  checkTerm('numerator', numerator)
  checkTerm('denominator', denominator)
  return { numerator, denominator }
}

/**
 * Ratio of a decimal number, digit by digit, in doubles where they hold its digits.
 *
 *     r = digits / 10ⁿ
 *
 * @param value - Decimal number. [1e-6 .. 1e15]
 * @returns r, in these terms; in lowest terms where the digits or 10ⁿ exceed 2⁵³
 * @throws {DomainError} `out-of-range`
 * @see ECMA-262, Number::toString (shortest decimal that reads back as the number)
 * @example wholeRatioOfDecimal(3.7) // {"numerator":37,"denominator":10}
 */
export function wholeRatioOfDecimal(value: number): RatioInTerms {
  checkDecimal(value)
  const text = String(value)
  const point = text.indexOf('.')
  if (point === -1) return { numerator: value, denominator: 1 }
  const numerator = Number(text.slice(0, point) + text.slice(point + 1))
  const denominator = 10 ** (text.length - point - 1)
  const isHeld = numerator <= Number.MAX_SAFE_INTEGER && denominator <= Number.MAX_SAFE_INTEGER
  return isHeld ? { numerator, denominator } : new Fraction(text)
}

/**
 * Product of two ratios in whole numbers: no digit is lost with any number of factors.
 *
 *     r = a · b
 *
 * @param a - Ratio
 * @param b - Ratio
 * @returns r, in doubles while they hold both its terms
 * @see definition
 * @example productOfRatios(wholeRatio(37, 9), wholeRatio(6, 20)) // {"numerator":222,"denominator":180}
 */
export function productOfRatios(a: RatioInTerms, b: RatioInTerms): RatioInTerms {
  if (isWhole(a) && isWhole(b)) {
    const numerator = a.numerator * b.numerator
    const denominator = a.denominator * b.denominator
    if (numerator <= Number.MAX_SAFE_INTEGER && denominator <= Number.MAX_SAFE_INTEGER)
      return { numerator, denominator }
  }
  return inLowestTerms(a).mul(inLowestTerms(b))
}

/**
 * A ratio in lowest terms.
 *
 *     r = n / d
 *
 * n and d are whole numbers without a common factor.
 *
 * @param ratio - Ratio in any terms
 * @returns r
 * @see definition
 * @example inLowestTerms(wholeRatio(14, 40)).toFraction() // "7/20"
 */
export function inLowestTerms(ratio: RatioInTerms): ExactRatio {
  return isWhole(ratio) ? new Fraction(ratio.numerator, ratio.denominator) : ratio
}

/** Terms of a ratio without a common factor: doubles of one in doubles, by Euclid's algorithm. */
export const lowestTerms = (
  ratio: RatioInTerms,
): { readonly n: number | bigint; readonly d: number | bigint } => {
  if (!isWhole(ratio)) return ratio
  let [common, rest] = [ratio.numerator, ratio.denominator]
  while (rest !== 0) [common, rest] = [rest, common % rest]
  return { n: ratio.numerator / common, d: ratio.denominator / common }
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
export function figureOfRatio(ratio: RatioInTerms): Figure {
  return exact(isWhole(ratio) ? ratio.numerator / ratio.denominator : ratio.valueOf())
}
