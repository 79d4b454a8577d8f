import { DomainError } from '../errors.js'
import { exact, type Figure, product, propagate, quotient, scaled } from '../measure/figure.js'
import type { Note } from '../measure/notes.js'
import { orderedSources, type SourceId } from '../measure/sources.js'
import type { Mutable } from '../mutable.js'
import { checkedFilter, type Filter, LONGEST_MOVING_AVERAGE, SMALLEST_FACTOR } from './filter.js'
import { noiseGain, rampLagSamples, settlingSamples, sineGain, timeConstantSamples } from './response.js'

/** How the noise of a reading taken once a pulse grows with speed. */
export type NoiseGrowth = 'none' | 'with-speed' | 'with-speed-squared'

/** When readings come: at a fixed rate, or once a pulse. */
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
  /** Noise of one reading, rms, at the speed of the sampling. */
  readonly noiseMPerS: Figure
  /** Most noise wanted after the filter, rms. */
  readonly noiseAfterMPerS?: number
  /** Longest lag on a ramp. */
  readonly lagS?: number
  readonly pulsesPerTurn?: number
  /** A factor to be judged in place of the recommended one. */
  readonly factor?: number
  readonly speedsMPerS: readonly number[]
}

export interface FactorRange {
  readonly min: Figure
  readonly max: Figure
}

/** What a filter does to readings that come at a given interval with a given noise. */
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
  /** Nearest power of two, 1/2^shift, and whether it is within the range. */
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
  /** Bad readings in a row that leave no trace. */
  readonly badReadingsIgnored: number
  /** Whether errors that repeat with the ring vanish; absent without pulsesPerTurn. */
  readonly freeOfRingErrors?: boolean
  /** Share of a once-per-turn wave that is left. */
  readonly oncePerTurnGain?: number
}

export interface SpeedRow extends FilterEffect {
  readonly speedMPerS: number
  readonly intervalS: Figure
  readonly noiseMPerS: Figure
  readonly range?: FactorRange
  readonly timeConstantS: Figure
  /** Way that the car goes during the lag. */
  readonly lagDistanceM: Figure
  readonly meets: boolean
}

export interface Relaxation {
  readonly limit: 'noise-after' | 'lag' | 'from-speed'
  /** What the limit would have to be, or the speed from which both limits hold. */
  readonly needed: Figure
  /** The factor that this admits. */
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

/** Time from one reading to the next, and the noise of one, at a speed. */
interface Readings {
  readonly speedMPerS: number
  readonly intervalS: Figure
  readonly noiseMPerS: Figure
}

/** Shifts beyond this need more than the 32 bits that small firmware has. */
const LONGEST_SHIFT = 24

const GROWTH: Readonly<Record<NoiseGrowth, 0 | 1 | 2>> = {
  none: 0,
  'with-speed': 1,
  'with-speed-squared': 2,
}

/**
 * Largest smoothing factor that brings noise down to a limit.
 *
 *     a = 2·r²/(1 + r²),  r = noise wanted / noise of one reading;  1 when r ≥ 1
 *
 * @param noiseAfter - Noise wanted, rms, any unit. [> 0]
 * @param noise - Noise of one reading, rms, same unit. [> 0]
 * @returns a, with the uncertainty that the noise brings
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
 * @param lagS - L, longest lag. [s, >= 0]
 * @param intervalS - T, time from one reading to the next. [s, > 0]
 * @returns a, with the uncertainty that the interval brings
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

/** A limit that holds to the last bit holds: limits and factors come from each other by arithmetic. */
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
  // One limit alone: right at it, where the other quantity is best. Both: the geometric middle, as far from the one as from the other.
  const highest = Math.max(max.value, SMALLEST_FACTOR)
  if (request.lagS === undefined) return { factor: highest, basis }
  if (request.noiseAfterMPerS === undefined) return { factor: min.value, basis }
  return { factor: Math.sqrt(min.value * highest), basis }
}

/** Nearest power of two; when that is outside the range and another is inside, the nearest inside. */
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

/** Largest factor with which the stages before it bring the noise to the limit; bisection to the last bit that matters. */
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

/** Readings of a moving average: whole turns where the ring is known, as few as the noise limit asks, as many as the lag limit admits. */
function averageLength(request: FilterDesignRequest, everywhere: readonly Readings[]): number {
  const turn = request.pulsesPerTurn ?? 1
  const most = Math.max(1, Math.floor(LONGEST_MOVING_AVERAGE / turn))
  const { noiseAfterMPerS, lagS } = request
  let turns = 1
  if (noiseAfterMPerS !== undefined) {
    const noise = Math.max(...everywhere.map(({ noiseMPerS }) => noiseMPerS.value))
    turns = Math.ceil(((noise / noiseAfterMPerS) ** 2 / turn) * (1 - 1e-12))
  } else if (lagS !== undefined) {
    const interval = Math.max(...everywhere.map(({ intervalS }) => intervalS.value))
    turns = Math.floor(((2 * lagS) / interval + 1) / turn)
  }
  return turn * Math.min(most, Math.max(1, turns))
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
  // Readings once a pulse come sooner at speed: the lag limit may hold from some speed on.
  if (sampling.by === 'pulse' && sampling.noiseGrowth === 'none') {
    ways.push({
      limit: 'from-speed',
      needed: quotient(exact(samples / lagS), sampling.pulsesPerM),
      factor: highest,
    })
  }
  return ways
}

/** What a factor does to limits that no factor meets together. */
function conflictText({ factor, basis }: Recommendation, { min, max }: FactorRange): string {
  if (basis !== 'given') return 'The recommended factor is a compromise that misses both.'
  if (factor <= max.value * SLACK) return 'The factor given meets the noise and misses the lag.'
  if (factor >= min.value / SLACK) return 'The factor given meets the lag and misses the noise.'
  return 'The factor given misses both.'
}

function notesOf(request: FilterDesignRequest, recommended: Recommendation, range: FactorRange): Note[] {
  const notes: Note[] = [
    {
      code: 'filter-start',
      level: 'info',
      text: 'The filter starts at its first reading; started at zero it would show a run-up of the length of the settling time.',
    },
    {
      code: 'filter-noise-white',
      level: 'info',
      text: 'The noise is taken as independent from reading to reading. Errors that repeat with the ring are not: compare oncePerTurnGain, or average over whole turns.',
    },
  ]
  if (range.min.value > range.max.value) {
    notes.push({
      code: 'filter-limits-conflict',
      level: 'caution',
      text: `No factor meets both limits; relax names what each would have to be. ${conflictText(recommended, range)}`,
    })
  }
  if (recommended.shift !== undefined && recommended.shift.bits > 0) {
    notes.push({
      code: 'filter-fraction-bits',
      level: 'info',
      text: `In integers keep at least ${recommended.shift.bits} fraction bits in the filtered value: without them y += (x - y) >> ${recommended.shift.bits} stops up to ${2 ** recommended.shift.bits - 1} counts short of the reading.`,
    })
  }
  if (request.sampling.by === 'pulse') {
    notes.push({
      code: 'filter-lag-is-distance',
      level: 'info',
      text: 'Readings come once a pulse, so the lag is a distance and not a time: twice as long at half the speed. Settling and lag are given at each speed.',
    })
  }
  return notes
}

/**
 * Smoothing that brings noise down far enough without lagging too much, at every speed asked for.
 *
 *     a ≤ 2·r²/(1 + r²)  from the noise,   a ≥ T/(T + L)  from the lag;   T fixed, or 1/(pulses per distance · speed)
 *
 * a is the smoothing factor, r the noise left as a share of the noise of the readings, L the lag allowed, T the time
 * from reading to reading.
 *
 * The range is what all speeds admit together. With one limit the recommended factor lies on it, with both in their
 * geometric middle. Where nothing fits, `relax` says how far each limit would have to give way by itself.
 *
 * @param request - Readings, their noise, and at least one of noise wanted, lag allowed, a factor to judge
 * @returns Range of the factor, recommendation, other filters compared, the effect at each speed
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
      'limits: expected noiseAfter, lag or both, or a factor to judge; without any of them every factor is as good as every other',
      { pointer: '/limits' },
    )
  }
  // At a fixed rate nothing depends on the speed; the first row then carries none.
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
