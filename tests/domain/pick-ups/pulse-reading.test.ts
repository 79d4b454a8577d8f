import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { exact } from '../../../src/domain/measure/figure.js'
import {
  eccentricUncertaintyMPerS,
  edgeUncertaintyMPerS,
  firstReadingM,
  periodsAveraged,
  readingDelayS,
} from '../../../src/domain/pick-ups/pulse-reading.js'

describe('K 4000/km', () => {
  test('27 periods of 100 km/h fit into 0.25 s: 111.1 Hz', () => {
    expect(periodsAveraged((4000 * 100) / 3600, 0.25)).toBe(27)
  })
  test('the first reading comes within two pulses: 0.5 m at 4000/km', () => {
    expect(firstReadingM(exact(4)).value).toBeCloseTo(0.5, 12)
  })
})

describe('readingDelayS()', () => {
  test('is the mean lag of a simulated display at constant acceleration', () => {
    // Pulses of a car that gains 0.5 m/s each second from 20 m/s; display every 0.2 s at random phase; K = 4/m.
    const [v0, a, k, update] = [20, 0.5, 4, 0.2]
    const timeOf = (n: number) => (-v0 + Math.sqrt(v0 * v0 + (2 * a * n) / k)) / a
    const pulses = Array.from({ length: 2000 }, (_, n) => timeOf(n))
    let lag = 0
    const looks = 4000
    for (let i = 0; i < looks; i++) {
      // Golden-ratio steps spread the looking times evenly over all phases.
      const look = 5 + 10 * ((i * 0.6180339887498949) % 1)
      const updated = look - update * ((i * 0.7548776662466927) % 1)
      let newest = 0
      while (pulses[newest + 1]! <= updated) newest++
      const m = periodsAveraged(k * (v0 + a * updated), update)
      const shown = m / (k * (pulses[newest]! - pulses[newest - m]!))
      lag += (v0 + a * look - shown) / a
    }
    const f = k * (v0 + a * 10)
    expect(Math.abs(lag / looks - readingDelayS(f, update))).toBeLessThan(0.01)
  })
  test('a slower display never reduces the delay', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.1, max: 1e4, noNaN: true }),
        fc.double({ min: 1e-3, max: 2, noNaN: true }),
        (f, update) => {
          expect(readingDelayS(f, update * 2)).toBeGreaterThanOrEqual(readingDelayS(f, update))
        },
      ),
    )
  })
})

describe('flaws of the ring', () => {
  test('0.1 mm on 8 mm of pitch is 1.25 % of one period when one edge is off', () => {
    // One edge off brings u; two independent edges the square root of two of it.
    expect(edgeUncertaintyMPerS(100, 0.1 / 8, 1, 8) / Math.SQRT2).toBeCloseTo(1.25, 12)
  })
  test('whole turns are free of both', () => {
    for (const turns of [1, 2, 7]) {
      expect(edgeUncertaintyMPerS(30, 0.02, 8 * turns, 8)).toBe(0)
      expect(eccentricUncertaintyMPerS(30, 0.02, 8 * turns, 8)).toBeLessThan(1e-15)
    }
  })
  test('eccentricity is the rms of the mean of a sine over the window, taken in 100 000 steps', () => {
    const [periods, perTurn] = [3, 8]
    const theta = (2 * Math.PI * periods) / perTurn
    const steps = 1000
    let square = 0
    for (let i = 0; i < steps; i++) {
      const from = (2 * Math.PI * i) / steps
      let mean = 0
      for (let j = 0; j < 100; j++) mean += Math.sin(from + (theta * (j + 0.5)) / 100) / 100
      square += mean * mean
    }
    const rms = Math.sqrt(square / steps)
    expect(eccentricUncertaintyMPerS(1, 1, periods, perTurn)).toBeCloseTo(rms, 4)
  })
})
