import { mean, standardDeviation } from 'simple-statistics'
import { describe, expect, test } from 'vitest'
import { generator } from '../../../src/domain/signals/random.js'

describe('ISO/IEC 14882, [rand.predef]: mt19937', () => {
  test('the 10 000th output with seed 5489 is 4123659995', () => {
    const random = generator(5489)
    for (let i = 1; i < 10_000; i++) random.next()
    expect(random.next()).toBe(4_123_659_995)
  })
})

describe('generator(seed)', () => {
  test('gives the same numbers for the same seed and others for another', () => {
    const numbers = (start: number) => {
      const random = generator(start)
      return Array.from({ length: 5 }, () => random.next())
    }
    expect(numbers(7)).toEqual(numbers(7))
    expect(numbers(7)).not.toEqual(numbers(8))
  })

  test('accepts both ends of its range and nothing beyond', () => {
    expect(generator(0).next()).not.toBe(generator(2 ** 32 - 1).next())
    for (const start of [-1, 2 ** 32]) {
      expect(() => generator(start)).toThrow(expect.objectContaining({ code: 'out-of-range' }))
    }
  })

  test('normal() has mean 0, variance 1, and 95.45 % within two of it (normal distribution)', () => {
    const random = generator(1)
    const draws = Array.from({ length: 200_000 }, () => random.normal())
    // Five standard errors of each: 1/√n, 1/√(2n), √(p(1 − p)/n).
    expect(Math.abs(mean(draws))).toBeLessThan(5 / Math.sqrt(200_000))
    expect(Math.abs(standardDeviation(draws) - 1)).toBeLessThan(5 / Math.sqrt(400_000))
    const within = draws.filter((draw) => Math.abs(draw) < 2).length / draws.length
    expect(Math.abs(within - 0.9545)).toBeLessThan(5 * Math.sqrt((0.9545 * 0.0455) / 200_000))
  })
})
