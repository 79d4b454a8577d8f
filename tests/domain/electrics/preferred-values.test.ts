import { describe, expect, test } from 'vitest'
import { preferredBetween, preferredNearest } from '../../../src/domain/electrics/preferred-values.js'

describe('IEC 60063 (from memory)', () => {
  test('a decade has 6, 12 or 24 values', () => {
    expect(preferredBetween('E6', 100, 999)).toHaveLength(6)
    expect(preferredBetween('E12', 100, 999)).toHaveLength(12)
    expect(preferredBetween('E24', 100, 999)).toHaveLength(24)
  })
  test('each series contains the one before it', () => {
    const e24 = preferredBetween('E24', 1, 9.9)
    const e12 = preferredBetween('E12', 1, 9.9)
    expect(e24).toEqual(expect.arrayContaining(e12))
    expect(e12).toEqual(expect.arrayContaining(preferredBetween('E6', 1, 9.9)))
  })
  test('every value is within 5 % of 10^(k/24), the rule of the series', () => {
    preferredBetween('E24', 1, 9.9).forEach((value, k) => {
      expect(Math.abs(value / 10 ** (k / 24) - 1)).toBeLessThan(0.05)
    })
  })
  test('values are exact in every decade: 4.7 nF is exactly 4.7e-9', () => {
    expect(preferredBetween('E12', 4e-9, 5e-9)).toEqual([4.7e-9])
    expect(preferredBetween('E6', 1e6, 1.5e6)).toEqual([1e6, 1.5e6])
  })
  test('swapped ends give no values', () => expect(preferredBetween('E24', 20, 10)).toEqual([]))
  test('nearest is by ratio: between 1.0 and 1.2 the middle is 1.0954, not 1.1', () => {
    expect(preferredNearest('E12', 1.095)).toBe(1)
    expect(preferredNearest('E12', 1.096)).toBe(1.2)
  })
  test('refuses zero', () => expect(() => preferredNearest('E12', 0)).toThrow(/expected/))
})
