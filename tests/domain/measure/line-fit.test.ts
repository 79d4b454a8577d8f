import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import fc from 'fast-check'
import { linearRegression, median as referenceMedian } from 'simple-statistics'
import { describe, expect, test } from 'vitest'
import {
  type FitPoint,
  fitLine,
  fitProportional,
  medianRatio,
  theilSen,
} from '../../../src/domain/measure/line-fit.js'
import { noise } from '../../support/noise.js'

const relative = (got: number, expected: number) => Math.abs(got / expected - 1)
const bare = (x: number, y: number): FitPoint => ({ x, y, ux: 0, uy: 0 })

describe('NIST Statistical Reference Datasets, Norris (itl.nist.gov/div898/strd, linear regression, lower difficulty)', () => {
  const points = readFileSync(join(import.meta.dirname, '../../vectors/strd-norris.csv'), 'utf8')
    .trim()
    .split('\n')
    .slice(1)
    .map((line) => line.split(',').map(Number) as [number, number])
    .map(([x, y]) => bare(x, y))
  const fit = fitLine(points)

  test('holds 36 observations', () => expect(points.length).toBe(36))
  test.each([
    ['slope B1', fit.slope, 1.00211681802045],
    ['standard deviation of B1', fit.uSlope, 0.000429796848199937],
    ['intercept B0', fit.intercept, -0.262323073774029],
    ['standard deviation of B0', fit.uIntercept, 0.232818234301152],
    ['residual standard deviation', fit.readingSd, 0.884796396144373],
  ])('%s agrees to 1e-10 of its value', (_, got, certified) => {
    expect(relative(got, certified)).toBeLessThan(1e-10)
  })
  test('34 degrees of freedom', () => expect(fit.degreesOfFreedom).toBe(34))
})

describe('JCGM 100:2008 (GUM), H.3, calibration of a thermometer (data of table H.6; results printed there)', () => {
  // Readings t_k [deg C] and corrections b_k [deg C]; the fit is on t - 20.
  const t = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.01, 26.511]
  const b = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.16]
  const fit = fitLine(t.map((x, i) => bare(x - 20, b[i]!)))
  test('y1 = -0.1712(29), y2 = 0.00218(67), s = 0.0035', () => {
    expect(Math.abs(fit.intercept - -0.1712)).toBeLessThan(5e-5)
    expect(Math.abs(fit.uIntercept - 0.0029)).toBeLessThan(5e-5)
    expect(Math.abs(fit.slope - 0.00218)).toBeLessThan(5e-6)
    expect(Math.abs(fit.uSlope - 0.00067)).toBeLessThan(5e-6)
    expect(Math.abs(fit.readingSd - 0.0035)).toBeLessThan(5e-5)
  })
  test('correlation of intercept and slope -0.930', () => {
    expect(Math.abs((-fit.centreX * fit.uSlope) / fit.uIntercept - -0.93)).toBeLessThan(5e-4)
  })
  test('predicted correction at 30 deg C -0.1494 with u = 0.0041', () => {
    expect(Math.abs(fit.intercept + 10 * fit.slope - -0.1494)).toBeLessThan(5e-5)
    expect(Math.abs(Math.hypot(fit.uCentre, (10 - fit.centreX) * fit.uSlope) - 0.0041)).toBeLessThan(5e-5)
  })
})

describe('simple-statistics as reference', () => {
  const point = fc.record({
    x: fc.double({ min: -1e3, max: 1e3, noNaN: true }),
    y: fc.double({ min: -1e3, max: 1e3, noNaN: true }),
  })

  test('fitLine without uncertainties is its linearRegression', () => {
    fc.assert(
      fc.property(fc.array(point, { minLength: 3, maxLength: 50 }), (points) => {
        const spread = Math.max(...points.map(({ x }) => x)) - Math.min(...points.map(({ x }) => x))
        fc.pre(spread > 1)
        const { m, b } = linearRegression(points.map(({ x, y }) => [x, y]))
        const fit = fitLine(points.map(({ x, y }) => bare(x, y)))
        // The referee does not center: it loses digits that this does not.
        expect(Math.abs(fit.slope - m)).toBeLessThan(1e-6 * (1 + Math.abs(m)))
        expect(Math.abs(fit.intercept - b)).toBeLessThan(1e-6 * (1e3 + Math.abs(b)))
      }),
    )
  })

  test('fitLine with whole-number weights is its regression of repeated points', () => {
    fc.assert(
      fc.property(
        fc.array(fc.tuple(point, fc.integer({ min: 1, max: 9 })), { minLength: 3, maxLength: 20 }),
        (weighted) => {
          const xs = weighted.map(([{ x }]) => x)
          fc.pre(Math.max(...xs) - Math.min(...xs) > 1)
          const { m } = linearRegression(
            weighted.flatMap(([{ x, y }, times]) => Array.from({ length: times }, () => [x, y])),
          )
          const fit = fitLine(
            weighted.map(([{ x, y }, times]) => ({ x, y, ux: 0, uy: 1 / Math.sqrt(times) })),
          )
          expect(Math.abs(fit.slope - m)).toBeLessThan(1e-6 * (1 + Math.abs(m)))
        },
      ),
    )
  })

  test('theilSen is the median of the slopes of all pairs, by the reference', () => {
    fc.assert(
      fc.property(
        fc.uniqueArray(point, { minLength: 3, maxLength: 15, selector: ({ x }) => x }),
        (points) => {
          const slopes = points.flatMap((p, i) => points.slice(i + 1).map((q) => (q.y - p.y) / (q.x - p.x)))
          fc.pre(slopes.every((slope) => Number.isFinite(slope) && Math.abs(slope) < 1e6))
          expect(theilSen(points).slope).toBeCloseTo(referenceMedian(slopes), 9)
        },
      ),
    )
  })
})

describe('uncertainty on both axes', () => {
  // Pearson's data with York's weights: York (1966), Can. J. Phys. 44, 1079; results as in York et al. (2004), table II: from memory.
  const x = [0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4]
  const y = [5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5]
  const wx = [1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1]
  const wy = [1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500]
  const fit = fitLine(
    x.map((value, i) => ({ x: value, y: y[i]!, ux: 1 / Math.sqrt(wx[i]!), uy: 1 / Math.sqrt(wy[i]!) })),
  )

  test("Pearson's data with York's weights: slope -0.480533(58), intercept 5.479910(295), chi square 11.866", () => {
    expect(fit.slope).toBeCloseTo(-0.480533407, 8)
    expect(fit.intercept).toBeCloseTo(5.479910224, 8)
    expect(fit.uSlope).toBeCloseTo(0.0576, 3)
    expect(fit.uIntercept).toBeCloseTo(0.2949, 3)
    expect(fit.chiSquare).toBeCloseTo(11.866353, 5)
    expect(fit.scatterExceedsUncertainty).toBe(false)
  })

  test('with exact y it is the fit of x on y', () => {
    const swapped = fitLine(x.map((value, i) => ({ x: y[i]!, y: value, ux: 0, uy: 0.1 })))
    const straight = fitLine(x.map((value, i) => ({ x: value, y: y[i]!, ux: 0.1, uy: 0 })))
    expect(straight.slope).toBeCloseTo(1 / swapped.slope, 10)
  })
})

describe('fitProportional', () => {
  test('three points, by exact arithmetic: b = (2 + 8 + 18)/(1 + 4 + 9) = 2', () => {
    const fit = fitProportional([bare(1, 2), bare(2, 4), bare(3, 6)])
    expect(fit.slope).toBe(2)
    expect(fit.readingSd).toBe(0)
  })
  test('x = 1 throughout is the weighted mean: (10/0.01 + 13/0.04)/(1/0.01 + 1/0.04) = 10.6, u = 1/sqrt(125)', () => {
    const fit = fitProportional([
      { x: 1, y: 10, ux: 0, uy: 0.1 },
      { x: 1, y: 13, ux: 0, uy: 0.2 },
    ])
    expect(fit.slope).toBeCloseTo(10.6, 12)
    expect(fit.uSlope).toBeCloseTo(1 / Math.sqrt(125), 12)
    // 3 apart with uncertainties of 0.1 and 0.2: the scatter contradicts them.
    expect(fit.scatterExceedsUncertainty).toBe(true)
    expect(fit.widening).toBeGreaterThan(10)
  })
  test('one reading with an uncertainty is enough, one without is not', () => {
    expect(fitProportional([{ x: 10, y: 11, ux: 0, uy: 0.5 }]).uSlope).toBeCloseTo(0.05, 12)
    expect(() => fitProportional([bare(10, 11)])).toThrow(
      expect.objectContaining({ code: 'too-few-readings' }),
    )
  })
})

describe('rejected input', () => {
  test.each([
    ['two bare points', [bare(1, 1), bare(2, 2)], 'too-few-readings'],
    ['one speed', [bare(1, 1), bare(1, 2), bare(1, 3)], 'readings-at-one-speed'],
    [
      'uncertainty on some',
      [bare(1, 1), { x: 2, y: 2, ux: 0, uy: 1 }, bare(3, 3)],
      'uncertainty-on-some-readings',
    ],
    ['not a number', [bare(1, Number.NaN), bare(2, 2), bare(3, 3)], 'not-finite'],
  ])('%s', (_, points, code) => expect(() => fitLine(points)).toThrow(expect.objectContaining({ code })))
})

describe('stated uncertainty covers the truth', () => {
  const TRIALS = 4000
  /** Share of trials in which slope ± 2·u·widening holds the true slope. */
  function coverage(n: number, sigma: number, stated: number): number {
    const next = noise(20_251 + n)
    let hits = 0
    for (let trial = 0; trial < TRIALS; trial++) {
      const points = Array.from({ length: n }, (_, i) => ({
        x: 5 + 4 * i,
        y: 1 + 1.05 * (5 + 4 * i) + sigma * next(),
        ux: 0,
        uy: stated,
      }))
      const fit = fitLine(points)
      if (Math.abs(fit.slope - 1.05) <= 2 * fit.uSlope * fit.widening) hits++
    }
    return hits / TRIALS
  }
  // 95 % at 4000 trials has a standard deviation of 0.34 %.
  test.each([3, 5, 12])(
    '95 %% with %d points and no uncertainties given: Student carries few points',
    (n) => {
      expect(coverage(n, 0.4, 0)).toBeGreaterThan(0.938)
      expect(coverage(n, 0.4, 0)).toBeLessThan(0.962)
    },
  )
  test('at least 95 % when the given uncertainties are right', () => {
    expect(coverage(6, 0.4, 0.4)).toBeGreaterThan(0.945)
    expect(coverage(6, 0.4, 0.4)).toBeLessThan(0.975)
  })
  test('still above 90 % when the given uncertainties are half of the truth', () => {
    expect(coverage(8, 0.4, 0.2)).toBeGreaterThan(0.9)
  })
})

describe('robust lines', () => {
  test('theilSen keeps the line with 2 of 8 points far off; its range contains the slope', () => {
    const points = Array.from({ length: 8 }, (_, i) => ({
      x: i,
      y: i === 2 || i === 6 ? 80 : 1.5 * i + 2 + 0.01 * (i % 3),
    }))
    const line = theilSen(points)
    expect(line.slope).toBeCloseTo(1.5, 1)
    expect(line.slopeRange![0]).toBeLessThanOrEqual(1.5)
    expect(line.slopeRange![1]).toBeGreaterThanOrEqual(1.5)
  })
  test('medianRatio keeps the ratio with 1 of 4 points far off: median of 1.05, 1.06, 1.04, 9 is 1.055', () => {
    expect(medianRatio([bare(10, 10.5), bare(50, 53), bare(100, 104), bare(10, 90)]).slope).toBeCloseTo(
      1.055,
      12,
    )
  })
})
