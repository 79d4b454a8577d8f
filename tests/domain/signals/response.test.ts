import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import type { Filter } from '../../../src/domain/signals/filter.js'
import { generator } from '../../../src/domain/signals/random.js'
import {
  MEDIAN_AUTOCOVARIANCE,
  noiseGain,
  rampLagSamples,
  settlingSamples,
  sineGain,
  timeConstantSamples,
} from '../../../src/domain/signals/response.js'
import { filtered } from '../../support/filtered.js'

const filters = fc.record(
  {
    median: fc.constantFrom(3 as const, 5 as const),
    movingAverage: fc.integer({ min: 1, max: 40 }),
    factor: fc.double({ min: 0.02, max: 1, noNaN: true }),
  },
  { requiredKeys: ['factor'] },
)

describe('exact arithmetic', () => {
  const a = -Math.expm1(-0.2)

  test('T = 0.1 s, tau = 0.5 s: a = 1 - exp(-0.2), variance ratio, lag, settling', () => {
    expect(a).toBeCloseTo(1 - Math.exp(-0.2), 15)
    // a/(2 - a) = (1 - e)/(1 + e) = tanh(0.1), with e = exp(-0.2)
    expect(noiseGain({ factor: a }) ** 2).toBeCloseTo(Math.tanh(0.1), 14)
    // (1 - a)/a = 1/(exp(0.2) - 1)
    expect(rampLagSamples({ factor: a })).toBeCloseTo(1 / Math.expm1(0.2), 12)
    // exp(-0.2 n) <= 0.05: n >= 14.98
    expect(settlingSamples({ factor: a }, 0.95)).toBe(15)
    expect(timeConstantSamples(a)).toBeCloseTo(5, 12)
  })

  test('a mean of N and the exponential of the same noise have the same lag: a = 2/(N + 1)', () => {
    for (const n of [2, 7, 64]) {
      const factor = 2 / (n + 1)
      expect(noiseGain({ factor })).toBeCloseTo(noiseGain({ movingAverage: n }), 12)
      expect(rampLagSamples({ factor })).toBeCloseTo(rampLagSamples({ movingAverage: n }), 10)
    }
  })

  test('settling exactly at the level counts: a = 0.95 in one reading, N = 20 in 19', () => {
    expect(settlingSamples({ factor: 0.95 }, 0.95)).toBe(1)
    expect(settlingSamples({ movingAverage: 20 }, 0.95)).toBe(19)
    expect(settlingSamples({ factor: 1 }, 0.95)).toBe(1)
    expect(settlingSamples({ median: 5 }, 0.95)).toBe(3)
  })
})

describe('tables of normal order statistics (variance of the median of 3 and 5: 0.4487, 0.2868; from memory)', () => {
  test('lag 0 of the autocovariance', () => {
    expect(MEDIAN_AUTOCOVARIANCE[3][0]).toBeCloseTo(1 - Math.sqrt(3) / Math.PI, 12)
    expect(MEDIAN_AUTOCOVARIANCE[3][0]).toBeCloseTo(0.4487, 4)
    expect(MEDIAN_AUTOCOVARIANCE[5][0]).toBeCloseTo(0.2868, 4)
  })
})

describe('Hoeffding: cov(M1, M2) = ∬ P(M1 <= s, M2 <= t) - P(M1 <= s) P(M2 <= t) ds dt', () => {
  // Series of the error function to full precision; Abramowitz and Stegun 7.1.26 is not accurate enough.
  const phi = (z: number) => {
    let term = z
    let sum = z
    for (let n = 1; n < 200; n++) {
      term *= (z * z) / (2 * n + 1)
      sum += term
    }
    return z < -6 ? 0 : z > 6 ? 1 : 0.5 + (sum * Math.exp((-z * z) / 2)) / Math.sqrt(2 * Math.PI)
  }
  const choose = (n: number, k: number): number => (k === 0 ? 1 : (choose(n - 1, k - 1) * n) / k)
  const atLeast = (n: number, need: number, p: number) => {
    let total = 0
    for (let k = Math.max(0, need); k <= n; k++) total += choose(n, k) * p ** k * (1 - p) ** (n - k)
    return total
  }

  /** Overlapping windows of m, shifted by lag: the readings in common, then those of one window only. */
  function covariance(m: 3 | 5, lag: number, steps: number): number {
    const half = (m + 1) / 2
    const common = m - lag
    const step = 14 / steps
    const p = Array.from({ length: steps + 1 }, (_, i) => phi(-7 + i * step))
    const single = p.map((value) => atLeast(m, half, value))
    const joint = (low: number, high: number) => {
      let total = 0
      for (let i = 0; i <= common; i++) {
        for (let j = 0; i + j <= common; j++) {
          const ways = choose(common, i) * choose(common - i, j)
          total +=
            ways *
            low ** i *
            (high - low) ** j *
            (1 - high) ** (common - i - j) *
            atLeast(lag, half - i, low) *
            atLeast(lag, half - i - j, high)
        }
      }
      return total
    }
    let total = 0
    for (let i = 0; i <= steps; i++) {
      total += joint(p[i]!, p[i]!) - single[i]! ** 2
      for (let j = 0; j < i; j++) total += 2 * (joint(p[j]!, p[i]!) - single[i]! * single[j]!)
    }
    return total * step * step
  }

  for (const m of [3, 5] as const) {
    test(`every lag of the median of ${m}`, () => {
      for (let lag = 0; lag < m; lag++) {
        const coarse = covariance(m, lag, 100)
        const fine = covariance(m, lag, 200)
        // The crease at s = t leaves an error in step²: extrapolated away.
        expect(fine + (fine - coarse) / 3, `lag ${lag}`).toBeCloseTo(MEDIAN_AUTOCOVARIANCE[m][lag]!, 6)
      }
    })
  }
})

describe('closed forms against the running filter', () => {
  test('noiseGain(filter) is the remaining share of white normal noise, within 3 %', () => {
    const random = generator(42)
    const noise = Array.from({ length: 400_000 }, () => random.normal())
    const rms = (list: number[]) => Math.sqrt(list.reduce((total, x) => total + x * x, 0) / list.length)
    for (const filter of [
      { factor: 0.5 },
      { factor: 0.25 },
      { factor: 0.0625 },
      { movingAverage: 8 },
      { movingAverage: 8, factor: 0.25 },
      { median: 3 },
      { median: 5 },
      { median: 3, factor: 0.25 },
      { median: 5, movingAverage: 4, factor: 0.5 },
    ] as Filter[]) {
      const left = rms(filtered(filter, noise).slice(1000)) / rms(noise)
      expect(Math.abs(left / noiseGain(filter) - 1), JSON.stringify(filter)).toBeLessThan(0.03)
    }
  })

  test('rampLagSamples(filter) is the lag of the filter on a ramp', () => {
    fc.assert(
      fc.property(filters, (filter) => {
        const ramp = Array.from({ length: 2000 }, (_, i) => i)
        const last = filtered(filter as Filter, ramp).at(-1)!
        expect(1999 - last).toBeCloseTo(rampLagSamples(filter as Filter), 6)
      }),
    )
  })

  test('settlingSamples(filter, level) is the first reading at which a step response reaches the level', () => {
    fc.assert(
      fc.property(filters, fc.constantFrom(0.5, 0.9, 0.95, 0.99), (filter, level) => {
        const before = new Array(200).fill(0)
        const after = new Array(2000).fill(1)
        const answer = filtered(filter as Filter, [...before, ...after]).slice(200)
        const n = settlingSamples(filter as Filter, level)
        expect(answer[n - 1]).toBeGreaterThanOrEqual(level - 1e-9)
        if (n > 1) expect(answer[n - 2]).toBeLessThan(level + 1e-9)
      }),
    )
  })

  test('sineGain(filter, cycles) is the remaining amplitude of a sine, without the median', () => {
    for (const [filter, cycles] of [
      [{ factor: 0.2 }, 1 / 8],
      [{ movingAverage: 6 }, 1 / 10],
      [{ movingAverage: 4, factor: 0.5 }, 1 / 16],
    ] as [Filter, number][]) {
      const wave = Array.from({ length: 8000 }, (_, i) => Math.sin(2 * Math.PI * cycles * i))
      const answer = filtered(filter, wave).slice(4000)
      const amplitude = Math.sqrt((2 * answer.reduce((total, x) => total + x * x, 0)) / answer.length)
      expect(amplitude).toBeCloseTo(sineGain(filter, cycles), 3)
    }
  })

  test('a mean over whole turns removes what repeats with the ring', () => {
    for (const turns of [1, 2, 3]) expect(sineGain({ movingAverage: 8 * turns }, 1 / 8)).toBeCloseTo(0, 12)
  })
})

describe('noise whose neighbors are correlated', () => {
  // Sums of the filter's weights: w(j) = a(1 - a)^j, or 1/N; variance ΣΣ w(j) w(k) ρ(|j - k|).
  const summed = (weights: readonly number[], rho: (lag: number) => number) =>
    Math.sqrt(
      weights.reduce(
        (total, w, j) => total + weights.reduce((s, v, k) => s + w * v * rho(Math.abs(j - k)), 0),
        0,
      ),
    )
  const edges = (lag: number) => (lag === 0 ? 1 : lag === 1 ? -0.5 : 0)
  const swaying = (lag: number) => 0.6 ** lag
  const smoothing = Array.from({ length: 300 }, (_, j) => 0.2 * 0.8 ** j)
  const mean = Array<number>(12).fill(1 / 12)
  test.each([
    ['edges, exponential', { factor: 0.2 }, smoothing, edges, -0.5],
    ['edges, mean', { movingAverage: 12 }, mean, edges, -0.5],
    ['sway, exponential', { factor: 0.2 }, smoothing, swaying, 0.6],
    ['sway, mean', { movingAverage: 12 }, mean, swaying, 0.6],
  ] as const)('%s', (_, filter, weights, rho, next) => {
    expect(noiseGain(filter, next)).toBeCloseTo(summed(weights, rho), 9)
  })
  test('of edges, a mean of N leaves 1/N: the sum of the periods has only two edges', () => {
    expect(noiseGain({ movingAverage: 12 }, -0.5)).toBeCloseTo(1 / 12, 12)
  })
})

describe('limits', () => {
  test('one past each', () => {
    expect(() => settlingSamples({ factor: 0.5 }, 0.49)).toThrow(
      expect.objectContaining({ code: 'out-of-range' }),
    )
    expect(() => settlingSamples({ factor: 0.5 }, 1)).toThrow(
      expect.objectContaining({ code: 'out-of-range' }),
    )
    expect(() => sineGain({ factor: 0.5 }, 0.51)).toThrow(expect.objectContaining({ code: 'out-of-range' }))
    expect(() => timeConstantSamples(1.01)).toThrow(
      expect.objectContaining({ code: 'filter-factor-out-of-range' }),
    )
    expect(timeConstantSamples(1)).toBe(0)
  })
})
