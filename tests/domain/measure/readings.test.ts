import fc from 'fast-check'
import * as statistics from 'simple-statistics'
import { describe, expect, test } from 'vitest'
import {
  coveringUncertaintyOfMean,
  mean,
  median,
  outlierIndexes,
  standardUncertaintyOfMean,
} from '../../../src/domain/measure/readings.js'
import gum from '../../vectors/gum-4-4-3.json' with { type: 'json' }

const readings = fc.array(
  fc.integer({ min: -1e9, max: 1e9 }).map((thousandths) => thousandths / 1000),
  { minLength: 2, maxLength: 50 },
)
const code = (name: string) => expect.objectContaining({ code: name })

describe('GUM 4.4.3, twenty readings of a temperature', () => {
  test('mean 100.145', () => {
    expect(Math.abs(mean(gum.inputs) - gum.expected.mean)).toBeLessThanOrEqual(gum.tolerance)
  })
  test('u(mean) 0.333', () => {
    expect(
      Math.abs(standardUncertaintyOfMean(gum.inputs) - gum.expected.uncertaintyOfMean),
    ).toBeLessThanOrEqual(gum.tolerance)
  })
})

describe('simple-statistics', () => {
  test('gives the same mean, median and standard deviation', () => {
    fc.assert(
      fc.property(readings, (all) => {
        expect(mean(all)).toBeCloseTo(statistics.mean(all), 6)
        expect(median(all)).toBeCloseTo(statistics.median(all), 6)
        expect(standardUncertaintyOfMean(all)).toBeCloseTo(
          statistics.sampleStandardDeviation(all) / Math.sqrt(all.length),
          6,
        )
      }),
    )
  })
})

describe('few readings', () => {
  // GUM Table G.2: t95 of 1, 2 and 4 degrees of freedom.
  for (const [n, t] of [
    [2, 12.71],
    [3, 4.3],
    [5, 2.78],
  ] as const) {
    test(`${n} of them: twice the uncertainty is t95 = ${t} times that of the mean`, () => {
      const all = Array.from({ length: n }, (_, index) => 10 + index * 0.01)
      expect((2 * coveringUncertaintyOfMean(all)) / standardUncertaintyOfMean(all)).toBeCloseTo(t, 1)
    })
  }

  test('never have less uncertainty than more of the same', () => {
    const u = (n: number) => coveringUncertaintyOfMean(Array.from({ length: 2 * n }, (_, i) => (i % 2) - 0.5))
    for (let n = 1; n < 30; n++) expect(u(n)).toBeGreaterThan(u(n + 1))
  })

  test('one has no scatter, zero readings have no mean', () => {
    expect(() => standardUncertaintyOfMean([1])).toThrow(code('too-few-readings'))
    expect(() => coveringUncertaintyOfMean([1])).toThrow(code('too-few-readings'))
    expect(mean([1])).toBe(1)
    expect(() => mean([])).toThrow(code('too-few-readings'))
    expect(() => median([])).toThrow(code('too-few-readings'))
  })

  test('that are not finite are rejected', () => {
    expect(() => mean([1, Number.NaN])).toThrow(code('not-finite'))
    expect(() => mean([1e308, 1e308])).toThrow(code('not-finite'))
    expect(() => outlierIndexes([1, 2, 3, Number.NaN], 0)).toThrow(code('not-finite'))
    expect(() => median([1, Number.NaN])).toThrow(code('not-finite'))
  })
})

describe('outlierIndexes(readings, resolution)', () => {
  // M = 0.6745 x 0.30/0.01 = 20.2 > 3.5 for the last; 0.6745 for the others.
  test('marks what the modified Z-score marks', () => {
    expect(outlierIndexes([2.01, 2.02, 2.0, 2.01, 2.31, 2.02], 0)).toEqual([4])
  })
  // MAD 1, so |M| > 3.5 from a deviation of 5.19 on.
  test('marks beyond 3.5/0.6745 of the spread, and not before', () => {
    expect(outlierIndexes([-1, 0, 1, -1, 1, 5.18], 0)).toEqual([])
    expect(outlierIndexes([-1, 0, 0, 0, 1, -1, 1, 5.2], 0)).toEqual([7])
  })
  test('marks nothing among equal readings, and any different one if the rest are equal', () => {
    expect(outlierIndexes([5, 5, 5, 5], 0)).toEqual([])
    expect(outlierIndexes([5, 5, 5, 5, 5.5], 0.1)).toEqual([4])
    expect(outlierIndexes([5, 5, 5, 5, 5.5], 0.5)).toEqual([])
  })
  test('marks nothing among fewer than four', () => {
    expect(outlierIndexes([1, 1, 100], 0)).toEqual([])
  })
  test('does not depend on shift, scale or order', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: -1000, max: 1000 }), { minLength: 4, maxLength: 20 }), (all) => {
        const marked = outlierIndexes(all, 0).map((index) => all[index])
        const moved = all.map((value) => 2 * value + 16)
        expect(outlierIndexes(moved, 0)).toEqual(outlierIndexes(all, 0))
        const reversed = all.toReversed()
        expect(
          outlierIndexes(reversed, 0)
            .map((index) => reversed[index])
            .reverse(),
        ).toEqual(marked)
      }),
    )
  })
})
