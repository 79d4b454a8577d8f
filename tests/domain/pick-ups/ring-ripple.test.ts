import { expect, test } from 'vitest'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { ringRipple, rippledRing, rippleNoise } from '../../../src/domain/pick-ups/ring-ripple.js'
import { generator } from '../../../src/domain/signals/random.js'
import { ringGapErrors } from '../../../src/domain/signals/ring.js'

const TURN = 2 * Math.PI

/** Periods of the teeth of an eccentric ring past a sensor, over their mean: the exact angles of the teeth about the axis. */
function exactPeriods(teeth: number, eccentricity: number): number[] {
  const angle = (tooth: number) => {
    const at = (TURN * tooth) / teeth
    return Math.atan2(Math.sin(at), eccentricity + Math.cos(at))
  }
  return Array.from({ length: teeth }, (_, k) => {
    const gap = angle(k + 1) - angle(k)
    return ((((gap % TURN) + TURN) % TURN) * teeth) / TURN
  })
}

/** Amplitude of the once-per-turn wave of a list. */
function firstHarmonic(values: readonly number[]): number {
  const n = values.length
  const part = (f: (x: number) => number) =>
    (2 / n) * values.reduce((total, value, k) => total + value * f((TURN * (k + 0.5)) / n), 0)
  return Math.hypot(part(Math.cos), part(Math.sin))
}

const rms = (values: readonly number[]) => {
  const mean = values.reduce((a, b) => a + b, 0) / values.length
  return Math.sqrt(values.reduce((total, value) => total + (value - mean) ** 2, 0) / values.length)
}

// Exact geometry: teeth evenly on a circle of 50 mm whose center is 0.5 mm off the axis.
test.each([6, 8, 24, 60])(
  'first harmonic and rms of %i teeth, off center by a hundredth of the radius, by exact geometry',
  (teeth) => {
    const { firstHarmonicPercent, rmsPercent } = ringRipple(exact(0.0005), exact(0.1), teeth)
    const periods = exactPeriods(teeth, 0.01)
    expect(firstHarmonicPercent.value / (100 * firstHarmonic(periods))).toBeCloseTo(1, 3)
    expect(rmsPercent / (100 * rms(periods))).toBeCloseTo(1, 3)
  },
)

// Exact arithmetic: 10 gaps, those at two joints 20 % wider: 8 of 1, 2 of 1.2, mean 1.04. The extra width over the mean is 0.2/1.04.
test('the ripple of two joints is that of the widths of the gaps', () => {
  const gaps = Array.from({ length: 10 }, (_, k) => (k % 5 === 0 ? 1.2 : 1))
  const joint = { count: 2, pitchErrorPercent: exact(20 / 1.04) }
  const { jointPercent, rmsPercent } = ringRipple(exact(0), exact(0.1), 10, joint)
  expect(jointPercent!.value).toBeCloseTo(100 * (1.2 / 1.04 - 1), 9)
  expect(rmsPercent).toBeCloseTo((100 * rms(gaps)) / 1.04, 9)
})

// E(x²) = x² + u²: a joint of 0 within 2 u = 4 % is expected to ripple by 2 % · sqrt(1/10 · 9/10).
test('the uncertainty of a joint counts in the expected ripple', () => {
  const joint = { count: 1, pitchErrorPercent: uncertain(0, 'gap', 2) }
  expect(ringRipple(exact(0), exact(0.1), 10, joint).rmsPercent).toBeCloseTo(2 * 0.3, 12)
})

test('a simulation takes the ring as it is, and gives its periods the same ripple', () => {
  for (const count of [1, 2]) {
    const joint = { count, pitchErrorPercent: exact(5) }
    const ring = rippledRing(exact(0.0005), exact(0.1), 16, joint)
    const errors = Array.from(ringGapErrors(ring, generator(1)))
    const { rmsPercent } = ringRipple(exact(0.0005), exact(0.1), 16, joint)
    // Where wave and joint meet, their product is left out: at most 2 · wave · joint, summed over the joints, in the mean square.
    const crossed = (2 * 0.01 * 0.05 * count) / 16
    expect(Math.abs(rms(errors) ** 2 - (rmsPercent / 100) ** 2)).toBeLessThanOrEqual(crossed)
    expect(errors[0]! - errors[1]!).toBeGreaterThan(0.045)
  }
})

test('noise of 2 % at 50 m/s is 1 m/s', () => expect(rippleNoise(2, 50).value).toBeCloseTo(1, 12))
