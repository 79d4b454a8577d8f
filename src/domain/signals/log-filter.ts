import type { Mutable } from '../mutable.js'
import type { Filter } from './filter.js'
import { noiseGain, rampLagSamples } from './response.js'
import type { RingAverage } from './ring-average.js'

export interface RecommendedFilter {
  readonly filter: Filter
  readonly noiseBeforePercent: number
  readonly noiseAfterPercent: number
  readonly lagS: number
}

/** Noise that the recommended filter leaves, as a share of the speed: half a unit at 100. */
export const WANTED_NOISE = 0.005
/** A correlation above this many times 1/√periods is significant. */
const CORRELATION_SEEN = 2

/** What a filter for the readings of a log has to cope with. */
export interface LogNoise {
  /** Gaps of the ring. */
  readonly turn: number
  /** Gap errors, rms, as a share of the pitch; 0 if they are not significant. */
  readonly ringRms: number
  readonly average: Pick<RingAverage, 'spread' | 'nextCorrelation' | 'periods'>
  readonly extra: number
  readonly missed: number
  readonly periodS: number
}

/**
 * The lightest filter that reduces the noise of a reading to half a percent.
 *
 *     median of 3 for missed pulses, 5 for extra ones;  mean over a turn for ring errors;  a = 2⁻ᵇ, the largest with jitter · gain ≤ 0.5 %
 *
 * a is the smoothing factor, b a whole number of bits.
 *
 * @param noise - Ring errors, jitter and its correlation, missed and extra pulses, period [s]
 * @returns Filter, noise before and after it [% of the speed], its lag [s]; undefined if none is needed
 * @see NIST/SEMATECH e-Handbook 6.3.2.4; gain for correlated noise derived
 * @example recommendedFilter({ turn: 4, ringRms: 0.02, average: { spread: 0.001, nextCorrelation: 0, periods: 100 }, extra: 0, missed: 1, periodS: 0.01 }).filter // {"median":3,"movingAverage":4}
 */
export function recommendedFilter(noise: LogNoise): RecommendedFilter | undefined {
  const { turn, ringRms, average, extra, missed, periodS } = noise
  const { spread: jitter, nextCorrelation, periods } = average
  const filter: Mutable<Filter> = {}
  // An extra pulse makes two adjacent bad periods, a missed one makes one.
  if (extra > 0) filter.median = 5
  else if (missed > 0) filter.median = 3
  if (turn > 1 && ringRms > WANTED_NOISE) filter.movingAverage = turn
  const stages = filter.median !== undefined || filter.movingAverage !== undefined
  // A late edge makes one period long and the next one short: filters reduce that far more than white noise.
  const correlation = Math.abs(nextCorrelation) * Math.sqrt(periods) > CORRELATION_SEEN ? nextCorrelation : 0
  const gainOf = (one: Filter) => noiseGain(one, correlation)
  const left = jitter * (stages ? gainOf(filter) : 1)
  if (left > WANTED_NOISE) {
    let bits = 1
    while (bits < 12 && jitter * gainOf({ ...filter, factor: 2 ** -bits }) > WANTED_NOISE) bits++
    filter.factor = 2 ** -bits
  } else if (!stages) return undefined
  const gain = gainOf(filter)
  const before = Math.hypot(jitter, ringRms)
  const ringLeft = filter.movingAverage === undefined ? ringRms : 0
  return {
    filter,
    noiseBeforePercent: 100 * before,
    noiseAfterPercent: 100 * Math.hypot(jitter * gain, ringLeft),
    lagS: rampLagSamples(filter) * periodS,
  }
}
