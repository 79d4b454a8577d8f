import { describe, expect, test } from 'vitest'
import { slopeShare, standstillSpeedMPerS } from '../../../src/domain/pick-ups/satellite.js'

describe('NAVSTAR GPS User Equipment Introduction, 3.3: 0.2 m/s per axis, 95 %', () => {
  test('two axes at standstill stay below 0.2448 m/s 95 % of the time', () => {
    // Rayleigh: 1 - exp(-v²/(2σ²)) = 0.95, σ = 0.1 m/s.
    const v = standstillSpeedMPerS(0.2)
    expect(1 - Math.exp(-(v * v) / (2 * 0.01))).toBeCloseTo(0.95, 12)
    expect(v * 3.6).toBeCloseTo(0.8812, 4)
  })
})

describe('speed on a slope', () => {
  test('the 3-4-5 triangle: a slope of 75 % loses a fifth', () => expect(slopeShare(75)).toBeCloseTo(0.2, 12))
  test('none on the level', () => expect(slopeShare(0)).toBe(0))
  test.each([-1, 101])('refuses a slope of %f %%', (slope) =>
    expect(() => slopeShare(slope)).toThrow(expect.objectContaining({ code: 'out-of-range' })),
  )
})
