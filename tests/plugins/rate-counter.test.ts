import { describe, expect, test } from 'vitest'
import { RateCounter } from '../../src/plugins/rate-counter.js'

describe('RateCounter', () => {
  test('admits so many in a window, then none until the next', () => {
    const counter = new RateCounter(3, 1000)
    const counted = [0, 1, 2, 999, 1000].map((ms) => counter.count('a', ms))
    expect(counted.map(({ exceeded }) => exceeded)).toEqual([false, false, false, true, false])
    expect(counted.map(({ remaining }) => remaining)).toEqual([2, 1, 0, 0, 2])
  })

  test('says when the window ends, in whole seconds, never 0 before it does', () => {
    const counter = new RateCounter(3, 60_000)
    expect([0, 1, 59_000, 59_999].map((ms) => counter.count('a', ms).resetS)).toEqual([60, 60, 1, 1])
  })

  test('counts by weight; what is too heavy counts nothing, and leaves room for what is lighter', () => {
    const counter = new RateCounter(10, 1000)
    const counted = [4, 4, 4, 2, 1].map((weight) => counter.count('a', 0, weight))
    expect(counted.map(({ exceeded, remaining }) => [exceeded, remaining])).toEqual([
      [false, 6],
      [false, 2],
      [true, 2],
      [false, 0],
      [true, 0],
    ])
  })

  test('counts each name for itself', () => {
    const counter = new RateCounter(1, 1000)
    expect(counter.count('a', 0).exceeded).toBe(false)
    expect(counter.count('b', 0).exceeded).toBe(false)
    expect(counter.count('a', 0).exceeded).toBe(true)
  })

  test('forgets the oldest name when there are too many, and no other', () => {
    const counter = new RateCounter(1, 1000, 2)
    counter.count('a', 0)
    counter.count('b', 1)
    counter.count('c', 2)
    expect(counter.count('b', 3).exceeded).toBe(true)
    expect(counter.count('c', 3).exceeded).toBe(true)
    expect(counter.count('a', 3).exceeded).toBe(false)
  })
})
