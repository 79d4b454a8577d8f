import fc from 'fast-check'
import { errorFunction } from 'simple-statistics'
import { describe, expect, test } from 'vitest'
import { normalRamp } from '../../../src/domain/measure/distributions.js'
import { exact, toleranced, uncertain } from '../../../src/domain/measure/figure.js'
import { product, quotient, sum } from '../../../src/domain/measure/propagation.js'
import {
  COVERAGE,
  halfWidth,
  probabilityBelow,
  type Rectangle,
  reachBelow,
  type Spread,
  spreadFrom,
} from '../../../src/domain/measure/spread.js'
import { plusMinus, spreadOf } from '../../../src/domain/measure/uncertainty.js'

const even = (below: number, above: number): Rectangle => ({
  atLow: -below,
  atHigh: above,
  shareBelow: below / (below + above),
})

/** Integral of Φ by the trapezoid rule on 20 000 steps, from −10 standard uncertainties up. */
function integralOfCdf(x: number, u: number): number {
  const from = -10 * u
  const step = (x - from) / 20_000
  let total = 0
  for (let k = 0; k <= 20_000; k++)
    total += (k % 20_000 === 0 ? 0.5 : 1) * normalCdf((from + k * step) / u) * step
  return total
}

/** The error function of simple-statistics is good to 1.2e-7. */
const normalCdf = (z: number) => (1 + errorFunction(z / Math.SQRT2)) / 2

describe('normalRamp(x, u)', () => {
  test('is the integral of the cumulative normal distribution', () => {
    for (const [x, u] of [
      [0, 1],
      [1.5, 1],
      [-0.7, 2],
      [3, 0.5],
    ] as const)
      expect(normalRamp(x, u)).toBeCloseTo(integralOfCdf(x, u), 5)
    // At 0: u / sqrt(2 pi), the mean of the positive half.
    expect(normalRamp(0, 2)).toBeCloseTo(2 / Math.sqrt(2 * Math.PI), 12)
  })
})

describe('probabilityBelow(spread, x): closed forms', () => {
  test('one rectangle is uniform over its tolerance', () => {
    const spread = spreadFrom(0, [even(2.5, 1.5)])
    for (const [x, share] of [
      [-3, 0],
      [-2.5, 0],
      [-1.5, 0.25],
      [0, 0.625],
      [1, 0.875],
      [1.5, 1],
    ] as const)
      expect(probabilityBelow(spread, x)).toBeCloseTo(share, 12)
  })

  test('two equal rectangles make a triangle (GUM 4.3.9)', () => {
    const spread = spreadFrom(0, [even(1, 1), even(1, 1)])
    // P(E < x) = (2 + x)^2/8 below 0. Twelve parts leave 1/(2 x 12^2 x 4) at most.
    for (const x of [-1.7, -1, -0.3, 0])
      expect(Math.abs(probabilityBelow(spread, x) - (2 + x) ** 2 / 8)).toBeLessThan(0.002)
  })

  test('many small rectangles approach a normal distribution of the same mean and variance', () => {
    // Mean of each 0.5, variance 1/12.
    const spread = spreadFrom(
      0,
      Array.from({ length: 50 }, () => even(0, 1)),
    )
    expect(probabilityBelow(spread, 25)).toBeCloseTo(0.5, 3)
    const u = Math.sqrt(50 / 12)
    expect(Math.abs(probabilityBelow(spread, 25 + u) - 0.8413)).toBeLessThan(0.002)
  })

  test('1/x with x uniform over a tolerance: the exact distribution within 0.002', () => {
    // P(1/x - 1 < e) = P(x > 1/(1 + e)) = (1.015 - 1/(1 + e))/0.04.
    const turns = quotient(exact(1), toleranced(1, 'factor', 0.025, 0.015))
    for (const e of [-0.012, -0.006, 0, 0.006, 0.012, 0.018, 0.024])
      expect(Math.abs(probabilityBelow(spreadOf(turns), e) - (1.015 - 1 / (1 + e)) / 0.04)).toBeLessThan(
        0.002,
      )
  })
})

describe('halfWidth(spread)', () => {
  test('covers the same as k = 2 for a normal distribution', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0, max: 5, noNaN: true }),
        fc.double({ min: 1e-3, max: 5, noNaN: true }),
        fc.double({ min: 1e-3, max: 5, noNaN: true }),
        (u, below, above) => {
          const spread: Spread = spreadFrom(u, [even(below, above)])
          const h = halfWidth(spread)
          expect(probabilityBelow(spread, h) - probabilityBelow(spread, -h)).toBeCloseTo(COVERAGE, 6)
        },
      ),
    )
  })

  test('is 2·u for a normal distribution, and nearly so with a much smaller tolerance', () => {
    expect(halfWidth(spreadFrom(0.3, []))).toBe(0.6)
    expect(halfWidth(spreadFrom(1, [even(1e-4, 1e-4)]))).toBeCloseTo(2, 6)
    expect(halfWidth(spreadFrom(1, [even(0.01, 0.01)]))).toBeCloseTo(2, 4)
  })

  test('does not depend on earlier calls', () => {
    const spreads = Array.from({ length: 40 }, (_, k) => spreadFrom(k / 7, [even(1 + k / 3, 2)]))
    const there = spreads.map(halfWidth)
    const back = [...spreads].reverse().map(halfWidth).reverse()
    expect(back).toEqual(there)
  })
})

describe('reachBelow(spread, z)', () => {
  test('has the probability of z below it', () => {
    // 5 % of a tolerance of 4 lie within 0.2 of its low end.
    expect(reachBelow(spreadFrom(0, [even(2.5, 1.5)]), 1.6448536269514722)).toBeCloseTo(2.3, 6)
    expect(reachBelow(spreadFrom(2, []), 1.5)).toBe(3)
  })
})

describe('figures with a tolerance', () => {
  test('x/x has no uncertainty, whatever that of x', () => {
    const x = toleranced(3, 'x', 0.2, 0.1)
    expect(plusMinus(quotient(x, x))).toBeLessThan(1e-9)
  })

  test('a product carries the ends exactly, a sum of tolerances of one input their sum', () => {
    const x = toleranced(3, 'x', 0.2, 0.1)
    const [square] = spreadOf(product(x, x)).rectangles
    expect(square!.atLow).toBeCloseTo(2.8 ** 2 - 9, 12)
    expect(square!.atHigh).toBeCloseTo(3.1 ** 2 - 9, 12)
    const [double] = spreadOf(sum(x, x, uncertain(1, 'y', 0.1))).rectangles
    expect(double!.atLow).toBeCloseTo(-0.4, 12)
  })
})
