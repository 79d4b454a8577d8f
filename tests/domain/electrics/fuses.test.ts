import { describe, expect, test } from 'vitest'
import { FUSE_RATINGS_A, largestFuseA, smallestFuseA } from '../../../src/domain/electrics/fuses.js'

describe('a continuous load is at most 75 % of the rating (common practice, no source)', () => {
  test.each([
    [0.75, 1],
    [0.7501, 2],
    [7.5, 10],
    [30, 40],
  ])('%f A needs %i A', (load, rating) => expect(smallestFuseA(load, 0.75)).toBe(rating))
  test('30.1 A need more than the largest blade fuse', () =>
    expect(smallestFuseA(30.1, 0.75)).toBeUndefined())
})

describe('a fuse is at most the current capacity of the wire', () => {
  test('every rating is its own limit', () => {
    for (const rating of FUSE_RATINGS_A) expect(largestFuseA(rating)).toBe(rating)
  })
  test('a wire for 0.9 A has no blade fuse', () => expect(largestFuseA(0.9)).toBeUndefined())
})
