import fc from 'fast-check'
import { errorFunction } from 'simple-statistics'
import { describe, expect, test } from 'vitest'
import {
  conformityProbability,
  conformityResult,
  marginProbability,
} from '../../../src/domain/measure/conformity.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'

const { POSITIVE_INFINITY: NONE_ABOVE, NEGATIVE_INFINITY: NONE_BELOW } = Number
const code = (name: string) => expect.objectContaining({ code: name })

describe('conformityProbability(y, u, lower, upper): closed forms', () => {
  // erf(k/sqrt 2): the well-known shares within one, two and three standard deviations.
  for (const [k, share] of [
    [1, 0.6826894921],
    [2, 0.9544997361],
    [3, 0.9973002039],
  ] as const) {
    test(`limits of ${k} u about the estimate hold ${share}`, () => {
      expect(conformityProbability(5, 0.5, 5 - k * 0.5, 5 + k * 0.5)).toBeCloseTo(share, 8)
    })
  }

  test('an estimate on its only limit is as likely inside as outside', () => {
    expect(conformityProbability(4, 1, 4, NONE_ABOVE)).toBeCloseTo(0.5, 12)
    expect(conformityProbability(4, 1, NONE_BELOW, 4)).toBeCloseTo(0.5, 12)
  })

  // 1.644854 is the 95 % point of the normal distribution.
  test('a guard band of 1.645 u proves conformity with a single limit', () => {
    expect(conformityProbability(1.644854, 1, 0, NONE_ABOVE)).toBeCloseTo(0.95, 6)
    expect(conformityProbability(-1.644854, 1, 0, NONE_ABOVE)).toBeCloseTo(0.05, 6)
  })

  test('without uncertainty a value on a limit is inside, and one beyond it is not', () => {
    expect(conformityProbability(0, 0, 0, 14)).toBe(1)
    expect(conformityProbability(14, 0, 0, 14)).toBe(1)
    expect(conformityProbability(14.000001, 0, 0, 14)).toBe(0)
    expect(conformityProbability(-1e-9, 0, 0, 14)).toBe(0)
  })

  test('rounding is neither a breach nor an uncertainty', () => {
    // In doubles 720/1609.344 x 4.1 / (2952/1609.344) is not 1, though 720 x 4.1 = 2952 exactly.
    const slope = ((720 / 1609.344) * 4.1) / (2952 / 1609.344)
    for (const value of [slope, 1 - 4 * Number.EPSILON, 1, 1 + 4 * Number.EPSILON]) {
      for (const u of [0, Number.EPSILON, 1e-10]) {
        expect(conformityProbability(value, u, 1, NONE_ABOVE)).toBe(1)
        expect(conformityProbability(value, u, NONE_BELOW, 1)).toBe(1)
      }
    }
    for (const u of [0, Number.EPSILON]) {
      expect(conformityProbability(1 - 1e-8, u, 1, NONE_ABOVE)).toBe(0)
      expect(conformityProbability(1 + 1e-8, u, NONE_BELOW, 1)).toBe(0)
    }
  })

  test('keeps its digits in the tail: ten u past the limit is 7.6e-24, not zero', () => {
    expect(conformityProbability(-10, 1, 0, NONE_ABOVE)).toBeLessThan(1e-20)
    expect(conformityProbability(1e6, 1, 0, 1)).toBe(0)
    expect(conformityProbability(0.5, 1e-300, 0, 1)).toBe(1)
  })

  test('rejects NaN, and a negative uncertainty', () => {
    expect(() => conformityProbability(Number.NaN, 1, 0, 1)).toThrow(code('not-finite'))
    expect(() => conformityProbability(0, Number.NaN, 0, 1)).toThrow(code('not-finite'))
    expect(() => conformityProbability(0.5, -1, 0, 1)).toThrow(code('out-of-range'))
  })
})

describe('properties', () => {
  const y = fc.double({ min: -100, max: 100, noNaN: true })
  const u = fc.double({ min: 1e-3, max: 50, noNaN: true })

  test('agrees with the error function of simple-statistics', () => {
    fc.assert(
      fc.property(
        y,
        u,
        y,
        fc.double({ min: 0, max: 50, noNaN: true }),
        (estimate, uncertainty, lower, width) => {
          const phi = (limit: number) =>
            (1 + errorFunction((limit - estimate) / uncertainty / Math.SQRT2)) / 2
          const expected = phi(lower + width) - phi(lower)
          expect(
            Math.abs(conformityProbability(estimate, uncertainty, lower, lower + width) - expected),
          ).toBeLessThan(5e-7)
        },
      ),
    )
  })

  test('the probabilities below, inside and above add up to 1', () => {
    fc.assert(
      fc.property(
        y,
        u,
        y,
        fc.double({ min: 0, max: 50, noNaN: true }),
        (estimate, uncertainty, lower, width) => {
          const upper = lower + width
          const total =
            conformityProbability(estimate, uncertainty, NONE_BELOW, lower) +
            conformityProbability(estimate, uncertainty, lower, upper) +
            conformityProbability(estimate, uncertainty, upper, NONE_ABOVE)
          expect(total).toBeCloseTo(1, 9)
        },
      ),
    )
  })
})

describe('marginProbability(margin, estimate)', () => {
  // 1.644854 is the 95 % point of the normal distribution.
  test('a margin of 1.645 u holds with 95 %, none with 50 %', () => {
    expect(marginProbability(uncertain(1.644854, 'm', 1), 10)).toBeCloseTo(0.95, 6)
    expect(marginProbability(uncertain(0, 'm', 1), 10)).toBeCloseTo(0.5, 9)
  })

  test('without uncertainty rounding does not put it beyond its limit', () => {
    expect(marginProbability(exact(0.15 - (0.1 + 0.05)), 0.15)).toBe(1)
    expect(marginProbability(exact(-1e-6), 0.15)).toBe(0)
  })
})

describe('conformityResult(probability)', () => {
  for (const [probability, result] of [
    [1, 'conforms'],
    [0.95, 'conforms'],
    [0.9499, 'not-proven'],
    [0.5, 'not-proven'],
    [0.0501, 'not-proven'],
    [0.05, 'does-not-conform'],
    [0, 'does-not-conform'],
  ] as const) {
    test(`${probability}: ${result}`, () => expect(conformityResult(probability)).toBe(result))
  }
})
