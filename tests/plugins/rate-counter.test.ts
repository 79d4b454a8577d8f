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

  describe('of several processes', () => {
    /** Two counters that have told each other all. */
    const pair = () => {
      const counters = [new RateCounter(10, 1000), new RateCounter(10, 1000)] as const
      for (const counter of counters) counter.takeUses()
      return counters
    }

    test('includes what others admitted, each use once', () => {
      const [one, other] = pair()
      for (let n = 0; n < 4; n++) one.count('a', n)
      other.count('a', 2, 3)
      other.add(one.takeUses(), 5)
      one.add(other.takeUses(), 5)
      expect([one.count('a', 6).remaining, other.count('a', 6).remaining]).toEqual([2, 2])
      expect([...one.takeUses()]).toEqual([['a', { windowStartMs: 0, used: 1 }]])
    })

    test('lets the window end where the first of them saw the first request', () => {
      const [one, other] = pair()
      one.count('a', 0, 10)
      other.count('a', 400)
      other.add(one.takeUses(), 450)
      expect(other.count('a', 999).exceeded).toBe(true)
      expect(other.count('a', 1000)).toEqual({ exceeded: false, remaining: 9, resetS: 1 })
    })

    test('tells all that it admitted, also before it learned of an earlier start of the window', () => {
      const [one, other] = pair()
      one.count('a', 0)
      other.count('a', 400, 5)
      other.add(one.takeUses(), 450)
      other.count('a', 460)
      expect([...other.takeUses()]).toEqual([['a', { windowStartMs: 0, used: 6 }]])
    })

    test('leaves nothing to admit, and no less, when all together exceeded the limit', () => {
      const [one, other] = pair()
      one.count('a', 0, 8)
      other.count('a', 0, 8)
      other.add(one.takeUses(), 1)
      expect(other.count('a', 2)).toMatchObject({ exceeded: true, remaining: 0 })
    })

    test('does not count a window that is over', () => {
      const [one, other] = pair()
      one.count('a', 0, 8)
      other.add(one.takeUses(), 1000)
      expect(other.count('a', 1000).remaining).toBe(9)
    })
  })
})
