import { exact, type Figure } from '../measure/figure.js'
import { product, propagate, quotient, scaled } from '../measure/propagation.js'
import { type Filter, SMALLEST_FACTOR } from './filter.js'
import { noiseGain, rampLagSamples, settlingSamples } from './response.js'

/** How the noise of one reading per pulse grows with speed. */
export type NoiseGrowth = 'none' | 'with-speed' | 'with-speed-squared'

/** When readings are taken: at a fixed rate, or once per pulse. */
export type Sampling =
  | { readonly frequencyHz: Figure }
  | {
      readonly pulsesPerM: Figure
      readonly speedMPerS: Figure
      /** Left out: none. */
      readonly noiseGrowth?: NoiseGrowth
    }

export interface FilterLimits {
  /** Maximum noise after the filter, rms. */
  readonly noiseAfterMPerS?: number
  /** Maximum lag on a ramp. */
  readonly lagS?: number
}

export interface FilterDesignRequest {
  readonly sampling: Sampling
  /** Noise of one reading, rms, at the sampling speed. */
  readonly noiseMPerS: Figure
  readonly limits?: FilterLimits
  readonly pulsesPerTurn?: number
  /** Factor to assess instead of recommending one. */
  readonly factor?: number
  readonly speedsMPerS?: readonly number[]
}

export interface FactorLimits {
  readonly min: Figure
  readonly max: Figure
}

/** Effect of a filter on readings with a given interval and noise. */
export interface FilterEffect {
  readonly noiseAfterMPerS: Figure
  readonly rampLagS: Figure
  readonly settling95S: Figure
  readonly settling95Readings: number
}

/** Interval between readings and noise of one reading at a speed. */
export interface Readings {
  readonly speedMPerS: number
  readonly intervalS: Figure
  readonly noiseMPerS: Figure
}

const GROWTH: Readonly<Record<NoiseGrowth, 0 | 1 | 2>> = {
  none: 0,
  'with-speed': 1,
  'with-speed-squared': 2,
}

/**
 * Largest smoothing factor that reduces noise to a limit.
 *
 *     a = 2·r²/(1 + r²),  r = allowed noise / noise of one reading;  1 when r ≥ 1
 *
 * @param noiseAfter - Allowed noise, rms, any unit. [> 0]
 * @param noise - Noise of one reading, rms, same unit. [> 0]
 * @returns a, with the uncertainty due to the noise
 * @throws {DomainError} `not-finite`
 * @see NIST/SEMATECH e-Handbook 6.3.2.4: noise ratio √(a/(2 − a)), solved for a
 * @example largestFactorForNoise(0.5, exact(1)).value // 0.4 ± 1e-12
 */
export function largestFactorForNoise(noiseAfter: number, noise: Figure): Figure {
  const r = noiseAfter / noise.value
  if (r >= 1) return exact(1)
  const square = r * r
  const value = (2 * square) / (1 + square)
  return propagate(value, [[noise, (-4 * square) / (1 + square) ** 2 / noise.value]])
}

/**
 * Smallest smoothing factor that keeps the lag on a ramp within a limit.
 *
 *     a = T/(T + L)      from (1 − a)/a · T ≤ L
 *
 * @param lagS - L, maximum lag. [s, >= 0]
 * @param intervalS - T, interval between readings. [s, > 0]
 * @returns a, with the uncertainty due to the interval
 * @throws {DomainError} `not-finite`
 * @see ramp lag (1 − a)/a readings (derived), solved for a
 * @example smallestFactorForLag(0.3, exact(0.1)).value // 0.25 ± 1e-12
 */
export function smallestFactorForLag(lagS: number, intervalS: Figure): Figure {
  const total = intervalS.value + lagS
  return propagate(intervalS.value / total, [[intervalS, lagS / total / total]])
}

/**
 * Interval and noise of the readings at a speed.
 *
 *     T = 1/f at a fixed rate;  T = 1/(K·v), noise = noise at v₀ · (v/v₀)ⁿ once per pulse
 *
 * f is the rate, K pulses per distance, v the speed, v₀ the speed of the sampling, n 0, 1 or 2 as the noise grows.
 *
 * @param request - Sampling, and noise of one reading
 * @param speedMPerS - v. [m/s, > 0; without effect at a fixed rate]
 * @returns Interval [s] and noise [m/s]
 * @throws {DomainError} `not-finite`
 * @see definitions of rate and pulses per distance (derived)
 * @example readingsAt({ sampling: { pulsesPerM: exact(4), speedMPerS: exact(10), noiseGrowth: 'with-speed' }, noiseMPerS: exact(1) }, exact(20)).noiseMPerS.value // 2 ± 1e-12
 */
export function readingsAt(
  request: Pick<FilterDesignRequest, 'sampling' | 'noiseMPerS'>,
  speedMPerS: Figure,
): Readings {
  const { sampling, noiseMPerS } = request
  if ('frequencyHz' in sampling) {
    return {
      speedMPerS: speedMPerS.value,
      intervalS: quotient(exact(1), sampling.frequencyHz),
      noiseMPerS,
    }
  }
  const power = GROWTH[sampling.noiseGrowth ?? 'none']
  return {
    speedMPerS: speedMPerS.value,
    intervalS: quotient(exact(1), product(sampling.pulsesPerM, speedMPerS)),
    noiseMPerS: scaled(noiseMPerS, (speedMPerS.value / sampling.speedMPerS.value) ** power),
  }
}

/**
 * Smoothing factors that meet both limits; none if the smallest exceeds the largest.
 *
 *     T/(T + L) ≤ a ≤ 2·r²/(1 + r²)
 *
 * T is the interval between readings, L the allowed lag, r the allowed noise as a share of the noise of one reading.
 *
 * @param limits - L [s], left out: from the smallest factor; allowed noise [m/s], left out: to 1
 * @param readings - Interval and noise
 * @returns Smallest and largest a
 * @throws {DomainError} `not-finite`
 * @see NIST/SEMATECH e-Handbook 6.3.2.4
 * @example factorLimits({ lagS: 0.3 }, { speedMPerS: 0, intervalS: exact(0.1), noiseMPerS: exact(1) }).min.value // 0.25 ± 1e-12
 */
export function factorLimits(limits: FilterLimits, readings: Readings): FactorLimits {
  const { noiseAfterMPerS, lagS } = limits
  const forLag = lagS === undefined ? undefined : smallestFactorForLag(lagS, readings.intervalS)
  return {
    min: forLag === undefined || forLag.value < SMALLEST_FACTOR ? exact(SMALLEST_FACTOR) : forLag,
    max:
      noiseAfterMPerS === undefined ? exact(1) : largestFactorForNoise(noiseAfterMPerS, readings.noiseMPerS),
  }
}

/**
 * What a filter does to readings.
 *
 *     noise after = noise · noiseGain,  lag = T · rampLagSamples,  settling = T · settlingSamples(95 %)
 *
 * T is the interval between readings.
 *
 * @param filter - Filter
 * @param readings - Interval and noise
 * @returns Noise [m/s], lag and settling time [s]
 * @throws {DomainError} `not-finite`
 * @see NIST/SEMATECH e-Handbook 6.3.2.4; ramp lag and settling derived
 * @example filterEffect({ movingAverage: 4 }, { speedMPerS: 0, intervalS: exact(0.1), noiseMPerS: exact(1) }).noiseAfterMPerS.value // 0.5 ± 1e-12
 */
export function filterEffect(filter: Filter, readings: Readings): FilterEffect {
  const { intervalS, noiseMPerS } = readings
  const samples = settlingSamples(filter, 0.95)
  return {
    noiseAfterMPerS: scaled(noiseMPerS, noiseGain(filter)),
    rampLagS: scaled(intervalS, rampLagSamples(filter)),
    settling95S: scaled(intervalS, samples),
    settling95Readings: samples,
  }
}

/** Rounding tolerance: a factor derived from a limit must meet that limit. */
export const LIMIT_SLACK = 1 + 1e-9

/**
 * Whether a filter keeps the limits.
 *
 *     noise · noiseGain ≤ allowed noise  and  T · rampLagSamples ≤ L, each but for rounding
 *
 * T is the interval between readings, L the allowed lag.
 *
 * @param limits - Allowed noise [m/s] and L [s]; left out: no limit
 * @param filter - Filter
 * @param everywhere - Readings at every speed at which the limits apply
 * @returns Whether both hold everywhere
 * @see NIST/SEMATECH e-Handbook 6.3.2.4; ramp lag derived
 * @example meetsLimits({ lagS: 0.1 }, { factor: 0.5 }, [{ speedMPerS: 0, intervalS: exact(0.1), noiseMPerS: exact(1) }]) // true
 */
export function meetsLimits(limits: FilterLimits, filter: Filter, everywhere: readonly Readings[]): boolean {
  const { noiseAfterMPerS = Number.POSITIVE_INFINITY, lagS = Number.POSITIVE_INFINITY } = limits
  const gain = noiseGain(filter)
  const lag = rampLagSamples(filter)
  return everywhere.every(
    ({ noiseMPerS, intervalS }) =>
      noiseMPerS.value * gain <= noiseAfterMPerS * LIMIT_SLACK && intervalS.value * lag <= lagS * LIMIT_SLACK,
  )
}
