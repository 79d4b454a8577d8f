import { within } from '../errors.js'
import { checkedFilter, type Filter } from './filter.js'

/**
 * Autocovariance of the moving median of white normal noise of variance 1, lag 0 first; zero from the window length on.
 *
 * | window | lag 0 | source |
 * |---|---|---|
 * | 3 | 1 − √3/π | exact; tables of normal order statistics |
 * | 5 | 0.28683 | tables of normal order statistics |
 *
 * The other lags are ∬ P(M₁ ≤ s, M₂ ≤ t) − P(M₁ ≤ s)·P(M₂ ≤ t) ds dt over the normal distribution (Hoeffding); the
 * tests repeat the integration.
 */
export const MEDIAN_AUTOCOVARIANCE: Readonly<Record<3 | 5, readonly number[]>> = {
  3: [0.4486711045782, 0.2480424502576, 0.1177096845953],
  5: [0.2868336616059, 0.2003244502189, 0.1422236947079, 0.0914294353682, 0.0445434729996],
}

/**
 * Time constant of a smoothing factor, in readings: a = 1 − exp(−T/τ).
 *
 *     τ/T = −1 / ln(1 − a)
 *
 * @param factor - a. [0 < a <= 1]
 * @returns τ/T; 0 for a = 1
 * @throws {DomainError} `filter-factor-out-of-range`
 * @see exponential decay over one interval (derived)
 * @example timeConstantSamples(0.1812692469) // 5 ± 1e-8
 */
export function timeConstantSamples(factor: number): number {
  checkedFilter({ factor })
  return factor === 1 ? 0 : -1 / Math.log1p(-factor)
}

/**
 * Noise gain of a filter for white noise: rms after over rms before.
 *
 *     exponential: g² = a/(2 − a)      mean of N: g² = 1/N      median: g² = 1 − √3/π (3), 0.28683 (5)
 *     in series: g² = a/(2 − a) · (r₀ + 2·Σ rₖ (1 − a)ᵏ),  r: autocovariance at the input of the last stage
 *
 * rₖ is the autocovariance at a lag of k readings.
 *
 * White: the errors of the readings are independent and normal. Errors that repeat with the ring are not; use `sineGain` for
 * them. Readings that share an edge are not either: ρ₁ = −1/2, which gives a²/(2 − a) and 1/N². A negative ρ₁ is modeled as a
 * moving average of two, ρₖ = 0 beyond lag 1; a positive one as a first-order process, ρₖ = ρ₁ᵏ. Noise into a median is assumed white.
 *
 * @param filter - Filter
 * @param nextCorrelation - ρ₁, correlation of one reading's error with the next. [-1 .. 1]
 * @returns g, above 0 and at most 1
 * @throws {DomainError} those of `checkedFilter`
 * @see NIST/SEMATECH e-Handbook 6.3.2.4 (variance of the EWMA), 6.4.4 (autocorrelation of MA and AR processes); normal order statistics (medians)
 * @example noiseGain({ factor: 0.181269247 }) ** 2 // 0.099667995 ± 1e-9
 * @example noiseGain({ movingAverage: 16 }) // 0.25 ± 1e-12
 * @example noiseGain({ movingAverage: 16 }, -0.5) // 0.0625 ± 1e-12
 * @example noiseGain({ factor: 0.5 }, -0.5) ** 2 // 0.166666667 ± 1e-9
 */
export function noiseGain(filter: Filter, nextCorrelation = 0): number {
  const { median, movingAverage: n = 1, factor: a = 1 } = checkedFilter(filter)
  const before =
    median === undefined
      ? autocorrelation(within('nextCorrelation', nextCorrelation, -1, 1))
      : MEDIAN_AUTOCOVARIANCE[median]
  const last = before.length - 1
  let variance = 0
  // A mean of n convolves the autocovariance with the triangle (n − |j|)/n².
  for (let lag = 0; lag <= last + n - 1; lag++) {
    let covariance = 0
    for (let k = -last; k <= last; k++) {
      const weight = n - Math.abs(lag - k)
      if (weight > 0) covariance += before[Math.abs(k)]! * weight
    }
    variance += (lag === 0 ? 1 : 2) * covariance * (1 - a) ** lag
  }
  return Math.sqrt((a / (2 - a)) * variance) / n
}

/** Lag in readings beyond which a correlation is neglected. */
const LONGEST_CORRELATION = 100

/** Autocorrelation for a given correlation of neighbors, lag 0 first. A moving average of two has at least −1/2. */
function autocorrelation(next: number): readonly number[] {
  if (next <= 0) return [1, Math.max(-0.5, next)]
  return Array.from({ length: LONGEST_CORRELATION }, (_, lag) => next ** lag)
}

/**
 * Lag of a filter, in readings, while the input rises or falls steadily.
 *
 *     (m − 1)/2 + (N − 1)/2 + (1 − a)/a
 *
 * @param filter - Filter: median of m, mean of N, factor a
 * @returns Lag in readings, >= 0
 * @throws {DomainError} those of `checkedFilter`
 * @see steady state of y += a (x - y) on a ramp (derived); NIST/SEMATECH e-Handbook 6.3.2.4 for the recursion
 * @example rampLagSamples({ factor: 0.1812692469 }) // 4.516655566 ± 1e-8
 * @example rampLagSamples({ median: 3, movingAverage: 8 }) // 4.5 ± 0
 */
export function rampLagSamples(filter: Filter): number {
  const { median = 1, movingAverage = 1, factor = 1 } = checkedFilter(filter)
  return (median - 1) / 2 + (movingAverage - 1) / 2 + (1 - factor) / factor
}

/**
 * Number of readings until the step response reaches a given level.
 *
 *     exponential: smallest n with 1 − (1 − a)ⁿ ≥ level      mean of N: ⌈level·N⌉      median of m: (m + 1)/2
 *
 * a is the smoothing factor, N the length of the moving average.
 *
 * @param filter - Filter, settled before the step
 * @param level - Share of the step. [0.5 .. 0.9999]
 * @returns n, a whole number >= 1: the first reading after the step is n = 1
 * @throws {DomainError} those of `checkedFilter`, `out-of-range`
 * @see step response of the three recursions (derived)
 * @example settlingSamples({ factor: 0.181269247 }, 0.95) // 15 ± 0
 * @example settlingSamples({ movingAverage: 20 }, 0.95) // 19 ± 0
 */
export function settlingSamples(filter: Filter, level: number): number {
  within('level', level, 0.5, 0.9999)
  const { median = 1, movingAverage: n = 1, factor: a = 1 } = checkedFilter(filter)
  // Tolerance, so that rounding does not miss a level that a reading meets exactly.
  const open = (1 - level) * (1 + 1e-12)
  let left = 1
  let samples = (median - 1) / 2
  for (let filled = 1; filled <= n; filled++) {
    samples++
    left += a * (1 - filled / n - left)
    if (left <= open) return samples
  }
  return samples + Math.ceil(Math.log(open / left) / Math.log1p(-a))
}

/**
 * Gain of a filter for a sine wave on the readings: amplitude after over amplitude before.
 *
 *     |sin(N·w/2) / (N·sin(w/2))| · a / √(a² + 4·(1 − a)·sin²(w/2)),  w = 2π·cycles per reading
 *
 * N is the length of the moving average, a the smoothing factor.
 *
 * The median is ignored: a slow wave passes it unchanged. Once per turn of a ring with n pulses is 1/n cycle per reading.
 *
 * @param filter - Filter
 * @param cyclesPerReading - Cycles of the wave from one reading to the next. [0 .. 0.5]
 * @returns Gain, 0 to 1
 * @throws {DomainError} those of `checkedFilter`, `out-of-range`
 * @see transfer functions of the two recursions on the unit circle (derived)
 * @example sineGain({ movingAverage: 8 }, 1 / 8) // 0 ± 1e-12
 * @example sineGain({ factor: 0.5 }, 0.5) // 0.333333333333 ± 1e-12
 */
export function sineGain(filter: Filter, cyclesPerReading: number): number {
  within('cyclesPerReading', cyclesPerReading, 0, 0.5)
  const { movingAverage: n = 1, factor: a = 1 } = checkedFilter(filter)
  const half = Math.sin(Math.PI * cyclesPerReading)
  const mean = half === 0 ? 1 : Math.abs(Math.sin(n * Math.PI * cyclesPerReading) / (n * half))
  return (mean * a) / Math.sqrt(a * a + 4 * (1 - a) * half * half)
}
