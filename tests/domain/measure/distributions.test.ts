import fc from 'fast-check'
import { errorFunction } from 'simple-statistics'
import { describe, expect, test } from 'vitest'
import { coverageFactor95, erf, normalCdf } from '../../../src/domain/measure/distributions.js'
import g2 from '../../vectors/gum-g2.json' with { type: 'json' }
import normal from '../../vectors/normal-table.json' with { type: 'json' }

const code = (name: string) => expect.objectContaining({ code: name })

describe('erf(x)', () => {
  // Abramowitz and Stegun, Handbook of Mathematical Functions, Table 7.1, from memory: ten digits.
  for (const [x, expected] of [
    [0, 0],
    [0.5, 0.5204998778],
    [1, 0.8427007929],
    [1.5, 0.9661051465],
    [2, 0.995322265],
  ] as const) {
    test(`of ${x} is ${expected}, and of -${x} its negative`, () => {
      expect(erf(x)).toBeCloseTo(expected, 10)
      expect(erf(-x)).toBeCloseTo(-expected, 10)
    })
  }

  test('is 1 at infinity, and -1 at minus infinity', () => {
    expect([erf(Number.POSITIVE_INFINITY), erf(Number.NEGATIVE_INFINITY)]).toEqual([1, -1])
  })
})

describe('normalCdf(z)', () => {
  for (const [index, z] of normal.inputs.entries()) {
    test(`of ${z} is half and the area of the NIST table, and the rest below -${z}`, () => {
      const area = normal.expected[index]!
      expect(Math.abs(normalCdf(z) - 0.5 - area)).toBeLessThanOrEqual(normal.tolerance)
      expect(Math.abs(normalCdf(-z) - 0.5 + area)).toBeLessThanOrEqual(normal.tolerance)
    })
  }

  // The error function of simple-statistics is good to 1.2e-7.
  test('agrees with the error function of simple-statistics', () => {
    fc.assert(
      fc.property(fc.double({ min: -8, max: 8, noNaN: true }), (z) => {
        expect(Math.abs(normalCdf(z) - (1 + errorFunction(z / Math.SQRT2)) / 2)).toBeLessThan(2e-7)
      }),
    )
  })

  test('never falls, and stays between 0 and 1', () => {
    fc.assert(
      fc.property(
        fc.double({ noNaN: true, noDefaultInfinity: true }),
        fc.double({ min: 0, max: 10, noNaN: true }),
        (z, step) => {
          expect(normalCdf(z)).toBeGreaterThanOrEqual(0)
          expect(normalCdf(z)).toBeLessThanOrEqual(1)
          // The series of the error function is good to about 1e-15.
          expect(normalCdf(z + step)).toBeGreaterThanOrEqual(normalCdf(z) - 1e-14)
        },
      ),
    )
  })

  test('rejects NaN, and is 0 and 1 at the ends', () => {
    expect(() => normalCdf(Number.NaN)).toThrow(code('not-finite'))
    expect(normalCdf(Number.POSITIVE_INFINITY)).toBe(1)
    expect(normalCdf(Number.NEGATIVE_INFINITY)).toBe(0)
  })
})

describe('coverageFactor95(degrees of freedom)', () => {
  for (const [index, degrees] of g2.inputs.entries()) {
    test(`of ${degrees} is ${g2.expected[index]} (GUM Table G.2)`, () => {
      expect(Math.abs(coverageFactor95(degrees) - g2.expected[index]!)).toBeLessThanOrEqual(g2.tolerance)
    })
  }

  // One degree of freedom is the Cauchy distribution: t = tan(pi (0.975 - 0.5)). Two: t = a sqrt(2/(1 - a2)), a = 0.95.
  test('has closed forms for 1 and 2', () => {
    expect(coverageFactor95(1)).toBeCloseTo(Math.tan(0.475 * Math.PI), 6)
    expect(coverageFactor95(2)).toBeCloseTo(0.95 * Math.sqrt(2 / (1 - 0.95 ** 2)), 8)
  })

  test('falls to 1.96 as degrees grow', () => {
    expect(coverageFactor95(1e6)).toBeCloseTo(1.959964, 5)
    for (const [few, more] of [
      [1, 1.5],
      [2.5, 3],
      [16, 16.7],
      [100, 1000],
    ] as const) {
      expect(coverageFactor95(few)).toBeGreaterThan(coverageFactor95(more))
    }
  })

  test('accepts 1 to a million', () => {
    for (const outside of [0.999, 1_000_001])
      expect(() => coverageFactor95(outside)).toThrow(code('out-of-range'))
    expect(() => coverageFactor95(Number.NaN)).toThrow(code('not-finite'))
  })
})
