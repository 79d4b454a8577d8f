import { DomainError } from '../errors.js'
import { exact, type Figure } from '../measure/figure.js'
import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import { quotient, scaled } from '../measure/propagation.js'
import type { SourceId } from '../measure/sources.js'
import { plusMinus } from '../measure/uncertainty.js'
import type { Mutable } from '../mutable.js'
import { checkedFilter, SMALLEST_FACTOR } from './filter.js'
import { type Alternative, filterAlternatives } from './filter-alternatives.js'
import {
  type FactorLimits,
  type FilterDesignRequest,
  type FilterEffect,
  factorLimits,
  filterEffect,
  LIMIT_SLACK,
  meetsLimits,
  type Readings,
  readingsAt,
} from './filter-limits.js'
import { noiseGain, rampLagSamples, timeConstantSamples } from './response.js'

/** Factors that meet the limits, each end with its uncertainty, 95 %. */
export interface FactorRange {
  readonly min: number
  readonly max: number
  readonly minPlusMinus: number
  readonly maxPlusMinus: number
}

export interface Recommendation extends FilterEffect {
  readonly factor: number
  readonly basis: 'given' | 'within-range' | 'compromise'
  readonly timeConstantS: Figure
  readonly meets: boolean
  /** Nearest power of two, its factor 1/2^shift, and whether that meets the limits. */
  readonly shift?: number
  readonly shiftFactor?: number
  readonly shiftMeets?: boolean
}

export interface SpeedRow extends FilterEffect {
  readonly speedMPerS: number
  readonly intervalS: Figure
  readonly noiseMPerS: Figure
  /** Absent if no factor meets the limits at this speed. */
  readonly factor?: FactorRange
  readonly timeConstantS: Figure
  /** Distance that the car travels during the lag. */
  readonly lagDistanceM: Figure
  readonly meets: boolean
}

export interface Relaxation {
  readonly limit: 'noise-after' | 'lag' | 'from-speed'
  /** Value that this limit would need, or the speed above which both limits hold: that of `limit`. */
  readonly neededLagS?: Figure
  readonly neededNoiseAfterMPerS?: Figure
  readonly neededSpeedMPerS?: Figure
  /** Factor that then meets both limits. */
  readonly factor: number
}

export interface FilterDesign {
  readonly feasible: boolean
  /** Absent if no factor meets the limits everywhere. */
  readonly factor?: FactorRange
  readonly recommended: Recommendation
  readonly relax: readonly Relaxation[]
  readonly alternatives: readonly Alternative[]
  readonly speeds: readonly SpeedRow[]
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/** Longer shifts need more than the 32 bits of small firmware. */
const LONGEST_SHIFT = 24

const factorRange = ({ min, max }: FactorLimits): FactorRange => ({
  min: min.value,
  max: max.value,
  minPlusMinus: plusMinus(min),
  maxPlusMinus: plusMinus(max),
})

const isFeasible = ({ min, max }: FactorLimits) => min.value <= max.value

function chosenFactor({ factor, limits = {} }: FilterDesignRequest, range: FactorLimits) {
  if (factor !== undefined) return { factor: checkedFilter({ factor }).factor!, basis: 'given' as const }
  const { min, max } = range
  const basis = isFeasible(range) ? ('within-range' as const) : ('compromise' as const)
  // With one limit: exactly at it, where the other quantity is best. With both: the geometric mean of the two ends.
  const highest = Math.max(max.value, SMALLEST_FACTOR)
  if (limits.lagS === undefined) return { factor: highest, basis }
  if (limits.noiseAfterMPerS === undefined) return { factor: min.value, basis }
  return { factor: Math.sqrt(min.value * highest), basis }
}

/** Nearest power of two; if it is outside the range and another is inside, the nearest one inside. */
function shiftOf(factor: number, { min, max }: FactorLimits): number | undefined {
  const exponent = -Math.log2(factor)
  const nearest = Math.round(exponent)
  const highest = Math.floor(-Math.log2(min.value * (1 - 1e-12)) + 1e-12)
  const lowest = Math.ceil(-Math.log2(max.value) - 1e-12)
  const bits = lowest <= highest ? Math.min(highest, Math.max(lowest, nearest)) : nearest
  return bits > LONGEST_SHIFT ? undefined : bits
}

function recommendation(
  request: FilterDesignRequest,
  range: FactorLimits,
  here: Readings,
  everywhere: readonly Readings[],
): Recommendation {
  const { factor, basis } = chosenFactor(request, range)
  const meets = (one: number) => meetsLimits(request.limits ?? {}, { factor: one }, everywhere)
  const result: Mutable<Recommendation> = {
    factor,
    basis,
    timeConstantS: scaled(here.intervalS, timeConstantSamples(factor)),
    meets: meets(factor),
    ...filterEffect({ factor }, here),
  }
  const bits = shiftOf(factor, range)
  if (bits !== undefined) {
    result.shift = bits
    result.shiftFactor = 2 ** -bits
    result.shiftMeets = meets(result.shiftFactor)
  }
  return result
}

function relaxations(
  request: FilterDesignRequest,
  { min, max }: FactorLimits,
  everywhere: readonly Readings[],
): Relaxation[] {
  const { sampling, limits } = request
  if (min.value <= max.value) return []
  const highest = Math.max(max.value, SMALLEST_FACTOR)
  const largest = (figures: Figure[]) => figures.reduce((a, b) => (b.value > a.value ? b : a))
  const noise = largest(
    everywhere.map(({ noiseMPerS }) => scaled(noiseMPerS, noiseGain({ factor: min.value }))),
  )
  const ways: Relaxation[] = [{ limit: 'noise-after', neededNoiseAfterMPerS: noise, factor: min.value }]
  const lagS = limits?.lagS
  if (lagS === undefined || max.value < SMALLEST_FACTOR) return ways
  const samples = rampLagSamples({ factor: highest })
  ways.unshift({
    limit: 'lag',
    neededLagS: largest(everywhere.map(({ intervalS }) => scaled(intervalS, samples))),
    factor: highest,
  })
  // Readings per pulse come faster as speed rises: the lag limit may hold above some speed.
  if ('pulsesPerM' in sampling && (sampling.noiseGrowth ?? 'none') === 'none') {
    ways.push({
      limit: 'from-speed',
      neededSpeedMPerS: quotient(exact(samples / lagS), sampling.pulsesPerM),
      factor: highest,
    })
  }
  return ways
}

/** Which of two incompatible limits the factor meets. */
function conflictText({ factor, basis }: Recommendation, { min, max }: FactorLimits): string {
  if (basis !== 'given') return 'The recommended factor is a compromise and misses both.'
  if (factor <= max.value * LIMIT_SLACK)
    return 'The given factor meets the noise limit but not the lag limit.'
  if (factor >= min.value / LIMIT_SLACK)
    return 'The given factor meets the lag limit but not the noise limit.'
  return 'The given factor misses both.'
}

function notesOf(request: FilterDesignRequest, recommended: Recommendation, range: FactorLimits): Note[] {
  const notes: Note[] = [
    infoNote(
      'filter-start',
      'The filter is initialized with its first reading; initialized with zero, it would ramp up over the settling time.',
    ),
    infoNote(
      'filter-noise-white',
      'The noise is assumed to be independent from reading to reading. Errors that repeat with every turn of the ring are not: compare oncePerTurnGain, or average over whole turns.',
    ),
  ]
  if (!isFeasible(range)) {
    notes.push(
      cautionNote(
        'filter-limits-conflict',
        `No factor meets both limits; relax gives the value that each limit would need. ${conflictText(recommended, range)}`,
      ),
    )
  }
  const { shift = 0 } = recommended
  if (shift > 0) {
    notes.push(
      infoNote(
        'filter-fraction-bits',
        `In integer arithmetic, give the filtered value at least ${shift} fraction bits: without them y += (x - y) >> ${shift} stops up to ${2 ** shift - 1} counts short of the reading.`,
      ),
    )
  }
  if ('pulsesPerM' in request.sampling) {
    notes.push(
      infoNote(
        'filter-lag-is-distance',
        'There is one reading per pulse, so the lag is a distance and not a time: at half the speed it takes twice as long. Settling time and lag are given for each speed.',
      ),
    )
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
 * @example designFilter({ sampling: { frequencyHz: exact(10) }, noiseMPerS: exact(1), limits: { noiseAfterMPerS: 0.5, lagS: 0.3 } }).factor.max // 0.4 ± 1e-12
 * @example designFilter({ sampling: { frequencyHz: exact(10) }, noiseMPerS: exact(1) }) // throws filter-limits-missing
 */
export function designFilter(request: FilterDesignRequest): FilterDesign {
  const { sampling, limits = {}, factor, speedsMPerS = [] } = request
  if (limits.noiseAfterMPerS === undefined && limits.lagS === undefined && factor === undefined) {
    throw new DomainError(
      'filter-limits-missing',
      'limits: expected noiseAfter, lag or both, or a factor to assess; without any of them no factor is better than another',
      { pointer: '/limits' },
    )
  }
  // At a fixed rate nothing depends on speed; the first row then has speed 0.
  const here = readingsAt(request, 'frequencyHz' in sampling ? exact(0) : sampling.speedMPerS)
  const rows = speedsMPerS.map((speedMPerS) => readingsAt(request, exact(speedMPerS)))
  const everywhere = [here, ...rows]
  const ranges = everywhere.map((readings) => factorLimits(limits, readings))
  const range = {
    min: ranges.reduce((a, { min: b }) => (b.value > a.value ? b : a), ranges[0]!.min),
    max: ranges.reduce((a, { max: b }) => (b.value < a.value ? b : a), ranges[0]!.max),
  }
  const recommended = recommendation(request, range, here, everywhere)
  const result: Mutable<FilterDesign> = {
    feasible: isFeasible(range),
    recommended,
    relax: relaxations(request, range, everywhere),
    alternatives: filterAlternatives(request, recommended, here, everywhere),
    speeds: rows.map((readings, index) =>
      speedRow(request, readings, ranges[index + 1]!, recommended.factor),
    ),
    sources: ['definitions', 'gum', 'nist-ewma', 'normal-order-statistics'],
    notes: notesOf(request, recommended, range),
  }
  if (result.feasible) result.factor = factorRange(range)
  return result
}

/** The recommended factor at one speed. */
function speedRow(
  { limits = {} }: FilterDesignRequest,
  readings: Readings,
  range: FactorLimits,
  factor: number,
): SpeedRow {
  const effect = filterEffect({ factor }, readings)
  const row: Mutable<SpeedRow> = {
    ...readings,
    ...effect,
    timeConstantS: scaled(readings.intervalS, timeConstantSamples(factor)),
    lagDistanceM: scaled(effect.rampLagS, readings.speedMPerS),
    meets: meetsLimits(limits, { factor }, [readings]),
  }
  if (isFeasible(range)) row.factor = factorRange(range)
  return row
}
