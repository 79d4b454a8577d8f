import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import {
  figureOfRatio,
  inLowestTerms,
  productOfRatios,
  type RatioInTerms,
  ratioOf,
  ratioOfDecimal,
  wholeRatio,
  wholeRatioOfDecimal,
} from '../../../src/domain/measure/ratio.js'

const code = (name: string) => expect.objectContaining({ code: name })

describe('exact ratios', () => {
  test('a decimal is taken digit by digit: 3.70 x 7/20 is 259/200', () => {
    expect(ratioOfDecimal(3.7).mul(ratioOf(7, 20)).toFraction()).toBe('259/200')
  })

  test('of tooth counts lose no digit over a long train', () => {
    let train = ratioOf(1, 1)
    for (let i = 0; i < 20; i++) train = train.mul(ratioOf(191, 23)).mul(ratioOf(23, 191))
    expect(train.toFraction()).toBe('1')
  })

  test('return any decimal unchanged', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 10_000_000 }),
        fc.integer({ min: 0, max: 6 }),
        (digits, places) => {
          const value = Number(`${digits}e-${places}`)
          const ratio = ratioOfDecimal(value)
          expect(figureOfRatio(ratio).value).toBe(value)
          expect(ratio.equals(ratioOf(digits, 10 ** places))).toBe(true)
        },
      ),
    )
  })

  for (const [numerator, denominator] of [
    [0, 1],
    [1, 0],
    [-1, 2],
    [1.5, 2],
    [Number.NaN, 1],
    [2 ** 53, 1],
  ] as const) {
    test(`ratioOf(${numerator}, ${denominator}) is out of range`, () => {
      expect(() => ratioOf(numerator, denominator)).toThrow(code('out-of-range'))
    })
  }

  for (const value of [0, -1, 9.9e-7, 1.1e15, Number.NaN, Number.POSITIVE_INFINITY]) {
    test(`ratioOfDecimal(${value}) is out of range`, () => {
      expect(() => ratioOfDecimal(value)).toThrow(code('out-of-range'))
    })
  }

  test('their limits are in range', () => {
    expect(ratioOfDecimal(1e-6).toFraction()).toBe('1/1000000')
    expect(ratioOfDecimal(1e15).toFraction()).toBe('1000000000000000')
    expect(ratioOf(2 ** 53 - 1, 1).valueOf()).toBe(2 ** 53 - 1)
  })
})

describe('productOfRatios(a, b)', () => {
  const term = fc.integer({ min: 1, max: 1_000_000_000 })
  const ratio = fc.tuple(term, term)

  test('has the value of the product of fractions of any size, to the last digit', () => {
    fc.assert(
      fc.property(fc.array(ratio, { minLength: 1, maxLength: 6 }), (terms) => {
        const inTerms = terms.map(([n, d]): RatioInTerms => wholeRatio(n, d)).reduce(productOfRatios)
        // Number(bigint) and the quotient of two doubles are each correctly rounded.
        const large = terms.map(([n, d]) => ratioOf(n, d)).reduce((a, b) => a.mul(b))
        expect(inLowestTerms(inTerms).equals(large)).toBe(true)
        expect(figureOfRatio(inTerms).value).toBe(figureOfRatio(large).value)
      }),
    )
  })

  test('leaves doubles where a term would exceed 2^53', () => {
    // 2^40/3 x 2^40/7 = 2^80/21
    const product = productOfRatios(wholeRatio(2 ** 40, 3), wholeRatio(2 ** 40, 7))
    expect(inLowestTerms(product).toFraction()).toBe(`${2n ** 80n}/21`)
  })
})

describe('wholeRatioOfDecimal(value)', () => {
  test('is the fraction of its digits, however many there are', () => {
    fc.assert(
      fc.property(fc.double({ min: 1e-6, max: 1e15, noNaN: true }), (value) => {
        const ratio = wholeRatioOfDecimal(value)
        expect(inLowestTerms(ratio).equals(ratioOfDecimal(value))).toBe(true)
        expect(figureOfRatio(ratio).value).toBe(figureOfRatio(ratioOfDecimal(value)).value)
      }),
    )
  })
})
