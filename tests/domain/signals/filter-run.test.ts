import { readFileSync } from 'node:fs'
import fc from 'fast-check'
import { mean, median } from 'simple-statistics'
import { describe, expect, test } from 'vitest'
import { FilterRun } from '../../../src/domain/signals/filter-run.js'
import { filtered } from '../../support/filtered.js'

describe('NIST/SEMATECH e-Handbook 6.3.2.4, EWMA example', () => {
  const vector = JSON.parse(
    readFileSync(new URL('../../vectors/ewma-example.json', import.meta.url), 'utf8'),
  ) as {
    inputs: { factor: number; start: number; readings: number[] }
    expected: number[]
    tolerance: number
  }

  test('filtered({ factor: 0.3 }, readings, 50) gives the published values, rounded to two decimals', () => {
    const { factor, start, readings } = vector.inputs
    const result = filtered({ factor }, readings, start)
    expect(result).toHaveLength(20)
    for (const [index, value] of result.entries()) {
      expect(Math.abs(value - vector.expected[index]!), `row ${index + 1}`).toBeLessThanOrEqual(
        vector.tolerance + 1e-9,
      )
    }
  })
})

const readings = fc.array(fc.double({ min: -1e3, max: 1e3, noNaN: true }), { minLength: 8, maxLength: 60 })

describe('filtered(filter, readings)', () => {
  test('a median of 3 or 5 is the median of the last readings (simple-statistics as reference)', () => {
    fc.assert(
      fc.property(readings, fc.constantFrom(3 as const, 5 as const), (list, width) => {
        const result = filtered({ median: width }, list)
        for (let i = width - 1; i < list.length; i++) {
          // Adding 0 makes -0 and 0 one.
          expect(result[i]! + 0).toBe(median(list.slice(i - width + 1, i + 1)) + 0)
        }
      }),
    )
  })

  test('a moving average is the mean of the last readings, or of those so far at the start (simple-statistics as reference)', () => {
    fc.assert(
      fc.property(readings, fc.integer({ min: 1, max: 20 }), (list, length) => {
        const result = filtered({ movingAverage: length }, list)
        for (const [i, value] of result.entries()) {
          expect(value).toBeCloseTo(mean(list.slice(Math.max(0, i - length + 1), i + 1)), 8)
        }
      }),
    )
  })

  test('the stages run in the order median, moving average, factor', () => {
    const list = [1, 9, 2, 8, 3, 7, 100, 4, 6, 5]
    const stages = filtered({ factor: 0.25 }, filtered({ movingAverage: 4 }, filtered({ median: 3 }, list)))
    expect(filtered({ median: 3, movingAverage: 4, factor: 0.25 }, list)).toEqual(stages)
  })

  test('a constant reading passes unchanged from the first on', () => {
    expect(filtered({ median: 5, movingAverage: 8, factor: 0.1 }, [7, 7, 7])).toEqual([7, 7, 7])
  })

  test('reset() discards all earlier readings', () => {
    const run = new FilterRun({ median: 3, movingAverage: 4, factor: 0.25 })
    for (const reading of [100, 200, 300, 400, 500]) run.push(reading)
    run.reset()
    expect([run.push(5), run.push(6), run.push(7)]).toEqual(
      filtered({ median: 3, movingAverage: 4, factor: 0.25 }, [5, 6, 7]),
    )
  })
})
