import { describe, expect, test } from 'vitest'
import {
  checkedFilter,
  type Filter,
  LONGEST_MOVING_AVERAGE,
  SMALLEST_FACTOR,
} from '../../../src/domain/signals/filter.js'

const refused = (filter: object) => {
  try {
    checkedFilter(filter as Filter)
  } catch (error) {
    const { code, context } = error as { code: string; context: { pointer: string } }
    return [code, context.pointer]
  }
  return undefined
}

describe('checkedFilter(filter)', () => {
  test('accepts each stage alone and all of them, up to the limits', () => {
    for (const filter of [
      { median: 3 },
      { median: 5 },
      { movingAverage: 1 },
      { movingAverage: LONGEST_MOVING_AVERAGE },
      { factor: 1 },
      { factor: SMALLEST_FACTOR },
      { median: 3, movingAverage: 8, factor: 0.25 },
    ] as Filter[]) {
      expect(checkedFilter(filter)).toBe(filter)
    }
  })

  test('refuses what is just past each limit, and names the field', () => {
    expect(refused({})).toEqual(['filter-empty', ''])
    expect(refused({ factor: 0 })).toEqual(['filter-factor-out-of-range', '/factor'])
    expect(refused({ factor: SMALLEST_FACTOR * (1 - 1e-9) })).toEqual([
      'filter-factor-out-of-range',
      '/factor',
    ])
    expect(refused({ factor: 1 + Number.EPSILON })).toEqual(['filter-factor-out-of-range', '/factor'])
    expect(refused({ factor: Number.NaN })).toEqual(['filter-factor-out-of-range', '/factor'])
    expect(refused({ movingAverage: 0 })).toEqual(['out-of-range', '/movingAverage'])
    expect(refused({ movingAverage: 2.5 })).toEqual(['out-of-range', '/movingAverage'])
    expect(refused({ movingAverage: LONGEST_MOVING_AVERAGE + 1 })).toEqual(['out-of-range', '/movingAverage'])
    expect(refused({ median: 4 })).toEqual(['out-of-range', '/median'])
  })
})
