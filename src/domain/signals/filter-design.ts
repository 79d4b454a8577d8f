import { DomainError } from '../errors.js'
import { exact, type Figure, product, propagate, quotient, scaled } from '../measure/figure.js'
import type { Note } from '../measure/notes.js'
import { orderedSources, type SourceId } from '../measure/sources.js'
import type { Mutable } from '../mutable.js'
import { checkedFilter, type Filter, LONGEST_MOVING_AVERAGE, SMALLEST_FACTOR } from './filter.js'
import { noiseGain, rampLagSamples, settlingSamples, sineGain, timeConstantSamples } from './response.js'

/** How the noise of one reading per pulse grows with speed. */
export type NoiseGrowth = 'none' | 'with-speed' | 'with-speed-squared'

/** When readings are taken: at a fixed rate, or once per pulse. */
export type Sampling =
  | { readonly by: 'rate'; readonly frequencyHz: Figure }
  | {
      readonly by: 'pulse'
      readonly pulsesPerM: Figure
      readonly speedMPerS: Figure
      readonly noiseGrowth: NoiseGrowth
    }

export interface FilterDesignRequest {
  readonly sampling: Sampling
  /** Noise of one reading, rms, at the sampling speed. */
  readonly noiseMPerS: Figure
  /** Maximum noise after the filter, rms. */
  readonly noiseAfterMPerS?: number
  /** Maximum lag on a ramp. */
  readonly lagS?: number
  readonly pulsesPerTurn?: number
  /** Factor to assess instead of recommending one. */
  readonly factor?: number
  readonly speedsMPerS: readonly number[]
}

export interface FactorRange {
  readonly min: Figure
  readonly max: Figure
}

/** Effect of a filter on readings with a given interval and noise. */
export interface FilterEffect {
  readonly noiseAfterMPerS: Figure
  readonly rampLagS: Figure
  readonly settling95S: Figure
  readonly settling95Samples: number
}

export interface Recommendation extends FilterEffect {
  readonly factor: number
  readonly basis: 'given' | 'within-range' | 'compromise'
  readonly timeConstantS: Figure
  readonly meets: boolean
  /** Nearest power of two, 1/2^shift, and whether it meets the limits. */
  readonly shift?: { readonly bits: number; readonly factor: number; readonly meets: boolean }
}

export interface Alternative extends FilterEffect {
  readonly kind:
    | 'exponential'
    | 'exponential-by-shift'
    | 'moving-average'
    | 'median'
    | 'median-and-exponential'
    | 'moving-average-and-exponential'
    | 'median-moving-average-and-exponential'
  readonly filter: Filter
  readonly meets: boolean
  /** Consecutive bad readings that the filter rejects completely. */
  readonly badReadingsIgnored: number
  /** Whether the filter removes errors that repeat every turn of the ring; absent without pulsesPerTurn. */
  readonly freeOfRingErrors?: boolean
  /** Gain for a once-per-turn wave: amplitude after over amplitude before. */
  readonly oncePerTurnGain?: number
}

export interface SpeedRow extends FilterEffect {
  readonly speedMPerS: number
  readonly intervalS: Figure
  readonly noiseMPerS: Figure
  readonly range?: FactorRange
  readonly timeConstantS: Figure
  /** Distance that the car travels during the lag. */
  readonly lagDistanceM: Figure
  readonly meets: boolean
}

export interface Relaxation {
  readonly limit: 'noise-after' | 'lag' | 'from-speed'
  /** Value that this limit would need, or the speed above which both limits hold. */
  readonly needed: Figure
  /** Factor that then meets both limits. */
  readonly factor: number
}

export interface FilterDesign {
  readonly range?: FactorRange
  readonly recommended: Recommendation
  readonly relax: readonly Relaxation[]
  readonly alternatives: readonly Alternative[]
  readonly speeds: readonly SpeedRow[]
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/** Interval between readings and noise of one reading at a speed. */
interface Readings {
  readonly speedMPerS: number
  readonly intervalS: Figure
  readonly noiseMPerS: Figure
}

/** Longer shifts need more than the 32 bits of small firmware. */
const LONGEST_SHIFT = 24

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

function readingsAt(request: FilterDesignRequest, speedMPerS: Figure): Readings {
  const { sampling, noiseMPerS } = request
  if (sampling.by === 'rate') {
    return {
      speedMPerS: speedMPerS.value,
      intervalS: quotient(exact(1), sampling.frequencyHz),
      noiseMPerS,
    }
  }
  const power = GROWTH[sampling.noiseGrowth]
  return {
    speedMPerS: speedMPerS.value,
    intervalS: quotient(exact(1), product(sampling.pulsesPerM, speedMPerS)),
    noiseMPerS: scaled(noiseMPerS, (speedMPerS.value / sampling.speedMPerS.value) ** power),
  }
}

function rangeAt(request: FilterDesignRequest, readings: Readings): FactorRange {
  const { noiseAfterMPerS, lagS } = request
  const forLag = lagS === undefined ? undefined : smallestFactorForLag(lagS, readings.intervalS)
  return {
    min: forLag === undefined || forLag.value < SMALLEST_FACTOR ? exact(SMALLEST_FACTOR) : forLag,
    max:
      noiseAfterMPerS === undefined ? exact(1) : largestFactorForNoise(noiseAfterMPerS, readings.noiseMPerS),
  }
}

function effect(filter: Filter, { intervalS, noiseMPerS }: Readings): FilterEffect {
  const samples = settlingSamples(filter, 0.95)
  return {
    noiseAfterMPerS: scaled(noiseMPerS, noiseGain(filter)),
    rampLagS: scaled(intervalS, rampLagSamples(filter)),
    settling95S: scaled(intervalS, samples),
    settling95Samples: samples,
  }
}

/** Rounding tolerance: a factor derived from a limit must meet that limit. */
const SLACK = 1 + 1e-9

function meets(request: FilterDesignRequest, filter: Filter, everywhere: readonly Readings[]): boolean {
  const { noiseAfterMPerS = Number.POSITIVE_INFINITY, lagS = Number.POSITIVE_INFINITY } = request
  const gain = noiseGain(filter)
  const lag = rampLagSamples(filter)
  return everywhere.every(
    ({ noiseMPerS, intervalS }) =>
      noiseMPerS.value * gain <= noiseAfterMPerS * SLACK && intervalS.value * lag <= lagS * SLACK,
  )
}

function chosenFactor(request: FilterDesignRequest, { min, max }: FactorRange) {
  if (request.factor !== undefined)
    return { factor: checkedFilter({ factor: request.factor }).factor!, basis: 'given' as const }
  const basis = min.value <= max.value ? ('within-range' as const) : ('compromise' as const)
  // With one limit: exactly at it, where the other quantity is best. With both: the geometric mean of the two ends.
  const highest = Math.max(max.value, SMALLEST_FACTOR)
  if (request.lagS === undefined) return { factor: highest, basis }
  if (request.noiseAfterMPerS === undefined) return { factor: min.value, basis }
  return { factor: Math.sqrt(min.value * highest), basis }
}

/** Nearest power of two; if it is outside the range and another is inside, the nearest one inside. */
function shiftOf(factor: number, { min, max }: FactorRange): number | undefined {
  const exponent = -Math.log2(factor)
  const nearest = Math.round(exponent)
  const highest = Math.floor(-Math.log2(min.value * (1 - 1e-12)) + 1e-12)
  const lowest = Math.ceil(-Math.log2(max.value) - 1e-12)
  const bits = lowest <= highest ? Math.min(highest, Math.max(lowest, nearest)) : nearest
  return bits > LONGEST_SHIFT ? undefined : bits
}

function recommendation(
  request: FilterDesignRequest,
  range: FactorRange,
  here: Readings,
  everywhere: readonly Readings[],
): Recommendation {
  const { factor, basis } = chosenFactor(request, range)
  const result: Mutable<Recommendation> = {
    factor,
    basis,
    timeConstantS: scaled(here.intervalS, timeConstantSamples(factor)),
    meets: meets(request, { factor }, everywhere),
    ...effect({ factor }, here),
  }
  const bits = shiftOf(factor, range)
  if (bits !== undefined) {
    result.shift = {
      bits,
      factor: 2 ** -bits,
      meets: meets(request, { factor: 2 ** -bits }, everywhere),
    }
  }
  return result
}

/** Largest factor that, together with the stages before it, reduces the noise to the limit; by bisection. */
function factorBehind(stages: Filter, request: FilterDesignRequest, everywhere: readonly Readings[]) {
  const wanted = request.noiseAfterMPerS
  if (wanted === undefined) return undefined
  const gain = wanted / Math.max(...everywhere.map(({ noiseMPerS }) => noiseMPerS.value))
  if (noiseGain({ ...stages, factor: 1 }) <= gain) return 1
  let low = SMALLEST_FACTOR
  if (noiseGain({ ...stages, factor: low }) > gain) return undefined
  let high = 1
  for (let step = 0; step < 60; step++) {
    const middle = (low + high) / 2
    if (noiseGain({ ...stages, factor: middle }) <= gain) low = middle
    else high = middle
  }
  return low
}

/** Length of a moving average: whole turns if the ring is known; the minimum for the noise limit, or the maximum within the lag limit. */
function averageLength(request: FilterDesignRequest, everywhere: readonly Readings[]): number {
  const turn = request.pulsesPerTurn ?? 1
  const maxTurns = Math.max(1, Math.floor(LONGEST_MOVING_AVERAGE / turn))
  const { noiseAfterMPerS, lagS } = request
  let turns = 1
  if (noiseAfterMPerS !== undefined) {
    const noise = Math.max(...everywhere.map(({ noiseMPerS }) => noiseMPerS.value))
    turns = Math.ceil(((noise / noiseAfterMPerS) ** 2 / turn) * (1 - 1e-12))
  } else if (lagS !== undefined) {
    const interval = Math.max(...everywhere.map(({ intervalS }) => intervalS.value))
    turns = Math.floor(((2 * lagS) / interval + 1) / turn)
  }
  return turn * Math.min(maxTurns, Math.max(1, turns))
}

function alternatives(
  request: FilterDesignRequest,
  { factor, shift }: Recommendation,
  here: Readings,
  everywhere: readonly Readings[],
): Alternative[] {
  const turn = request.pulsesPerTurn
  const rows: Alternative[] = []
  const add = (kind: Alternative['kind'], filter: Filter) => {
    const row: Mutable<Alternative> = {
      kind,
      filter,
      meets: meets(request, filter, everywhere),
      badReadingsIgnored: ((filter.median ?? 1) - 1) / 2,
      ...effect(filter, here),
    }
    if (turn !== undefined && turn > 1) {
      row.oncePerTurnGain = sineGain(filter, 1 / turn)
      row.freeOfRingErrors = filter.movingAverage !== undefined && filter.movingAverage % turn === 0
    }
    rows.push(row)
  }
  add('exponential', { factor })
  if (shift !== undefined) add('exponential-by-shift', { factor: shift.factor })
  add('moving-average', { movingAverage: averageLength(request, everywhere) })
  for (const median of [3, 5] as const) add('median', { median })
  for (const median of [3, 5] as const) {
    add('median-and-exponential', {
      median,
      factor: factorBehind({ median }, request, everywhere) ?? factor,
    })
  }
  if (turn !== undefined && turn > 1) {
    const whole = { movingAverage: turn }
    add('moving-average-and-exponential', {
      ...whole,
      factor: factorBehind(whole, request, everywhere) ?? factor,
    })
    const all = { median: 3, movingAverage: turn } as const
    add('median-moving-average-and-exponential', {
      ...all,
      factor: factorBehind(all, request, everywhere) ?? factor,
    })
  }
  return rows
}

function relaxations(
  request: FilterDesignRequest,
  { min, max }: FactorRange,
  everywhere: readonly Readings[],
): Relaxation[] {
  const { sampling, lagS } = request
  if (min.value <= max.value) return []
  const highest = Math.max(max.value, SMALLEST_FACTOR)
  const largest = (figures: Figure[]) => figures.reduce((a, b) => (b.value > a.value ? b : a))
  const noise = largest(
    everywhere.map(({ noiseMPerS }) => scaled(noiseMPerS, noiseGain({ factor: min.value }))),
  )
  const ways: Relaxation[] = [{ limit: 'noise-after', needed: noise, factor: min.value }]
  if (lagS === undefined || max.value < SMALLEST_FACTOR) return ways
  const samples = rampLagSamples({ factor: highest })
  ways.unshift({
    limit: 'lag',
    needed: largest(everywhere.map(({ intervalS }) => scaled(intervalS, samples))),
    factor: highest,
  })
  // Readings per pulse come faster as speed rises: the lag limit may hold above some speed.
  if (sampling.by === 'pulse' && sampling.noiseGrowth === 'none') {
    ways.push({
      limit: 'from-speed',
      needed: quotient(exact(samples / lagS), sampling.pulsesPerM),
      factor: highest,
    })
  }
  return ways
}

/** Which of two incompatible limits the factor meets. */
function conflictText({ factor, basis }: Recommendation, { min, max }: FactorRange): string {
  if (basis !== 'given') return 'The recommended factor is a compromise and misses both.'
  if (factor <= max.value * SLACK) return 'The given factor meets the noise limit but not the lag limit.'
  if (factor >= min.value / SLACK) return 'The given factor meets the lag limit but not the noise limit.'
  return 'The given factor misses both.'
}

function notesOf(request: FilterDesignRequest, recommended: Recommendation, range: FactorRange): Note[] {
  const notes: Note[] = [
    {
      code: 'filter-start',
      level: 'info',
      text: 'The filter is initialized with its first reading; initialized with zero, it would ramp up over the settling time.',
    },
    {
      code: 'filter-noise-white',
      level: 'info',
      text: 'The noise is assumed to be independent from reading to reading. Errors that repeat with every turn of the ring are not: compare oncePerTurnGain, or average over whole turns.',
    },
  ]
  if (range.min.value > range.max.value) {
    notes.push({
      code: 'filter-limits-conflict',
      level: 'caution',
      text: `No factor meets both limits; relax gives the value that each limit would need. ${conflictText(recommended, range)}`,
    })
  }
  if (recommended.shift !== undefined && recommended.shift.bits > 0) {
    notes.push({
      code: 'filter-fraction-bits',
      level: 'info',
      text: `In integer arithmetic, give the filtered value at least ${recommended.shift.bits} fraction bits: without them y += (x - y) >> ${recommended.shift.bits} stops up to ${2 ** recommended.shift.bits - 1} counts short of the reading.`,
    })
  }
  if (request.sampling.by === 'pulse') {
    notes.push({
      code: 'filter-lag-is-distance',
      level: 'info',
      text: 'There is one reading per pulse, so the lag is a distance and not a time: at half the speed it takes twice as long. Settling time and lag are given for each speed.',
    })
  }
  return notes
}

/**
 * Smoothing factor that meets a noise limit and a lag limit at every given speed.
 *
 *     a ≤ 2·r²/(1 + r²)  from the noise,   a ≥ T/(T + L)  from the lag;   T fixed, or 1/(pulses per distance · speed)
 *
 * a is the smoothing factor, r the allowed noise as a share of the noise of one reading, L the allowed lag, T the interval
 * between readings.
 *
 * The range holds at all speeds. With one limit, the recommended factor lies on it; with both, it is their geometric
 * mean. If no factor fits, `relax` says how far each limit alone would have to be relaxed.
 *
 * @param request - Readings, their noise, and at least one of noise limit, lag limit, a factor to assess
 * @returns Range of the factor, recommendation, comparison of other filters, effect at each speed
 * @throws {DomainError} `filter-limits-missing`, `filter-factor-out-of-range`
 * @see NIST/SEMATECH e-Handbook 6.3.2.4; ramp lag and settling derived
 * @example designFilter({ sampling: { by: 'rate', frequencyHz: exact(10) }, noiseMPerS: exact(1), noiseAfterMPerS: 0.5, lagS: 0.3, speedsMPerS: [] }).range.max.value // 0.4 ± 1e-12
 * @example designFilter({ sampling: { by: 'rate', frequencyHz: exact(10) }, noiseMPerS: exact(1), speedsMPerS: [] }) // throws filter-limits-missing
 */
export function designFilter(request: FilterDesignRequest): FilterDesign {
  const { sampling, noiseAfterMPerS, lagS, factor } = request
  if (noiseAfterMPerS === undefined && lagS === undefined && factor === undefined) {
    throw new DomainError(
      'filter-limits-missing',
      'limits: expected noiseAfter, lag or both, or a factor to assess; without any of them no factor is better than another',
      { pointer: '/limits' },
    )
  }
  // At a fixed rate nothing depends on speed; the first row then has speed 0.
  const here = readingsAt(request, sampling.by === 'rate' ? exact(0) : sampling.speedMPerS)
  const rows = request.speedsMPerS.map((speedMPerS) => readingsAt(request, exact(speedMPerS)))
  const everywhere = [here, ...rows]
  const ranges = everywhere.map((readings) => rangeAt(request, readings))
  const range = {
    min: ranges.reduce((a, { min: b }) => (b.value > a.value ? b : a), ranges[0]!.min),
    max: ranges.reduce((a, { max: b }) => (b.value < a.value ? b : a), ranges[0]!.max),
  }
  const feasible = range.min.value <= range.max.value
  const recommended = recommendation(request, range, here, everywhere)
  const filter = { factor: recommended.factor }
  const result: Mutable<FilterDesign> = {
    recommended,
    relax: relaxations(request, range, everywhere),
    alternatives: alternatives(request, recommended, here, everywhere),
    speeds: rows.map((readings, index) => {
      const own = ranges[index + 1]!
      const values = effect(filter, readings)
      const row: Mutable<SpeedRow> = {
        ...readings,
        ...values,
        timeConstantS: scaled(readings.intervalS, timeConstantSamples(filter.factor)),
        lagDistanceM: scaled(values.rampLagS, readings.speedMPerS),
        meets: meets(request, filter, [readings]),
      }
      if (own.min.value <= own.max.value) row.range = own
      return row
    }),
    sources: orderedSources(['definitions', 'gum', 'nist-ewma', 'normal-order-statistics']),
    notes: notesOf(request, recommended, range),
  }
  if (feasible) result.range = range
  return result
}
