import type { Mutable } from '../mutable.js'
import { type Filter, LONGEST_MOVING_AVERAGE, SMALLEST_FACTOR } from './filter.js'
import {
  type FilterDesignRequest,
  type FilterEffect,
  filterEffect,
  meetsLimits,
  type Readings,
} from './filter-limits.js'
import { noiseGain, sineGain } from './response.js'

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

/** Largest factor that, together with the stages before it, reduces the noise to the limit; by bisection. */
function factorBehind(stages: Filter, request: FilterDesignRequest, everywhere: readonly Readings[]) {
  const wanted = request.limits?.noiseAfterMPerS
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
  const { noiseAfterMPerS, lagS } = request.limits ?? {}
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

/**
 * Other filters for the same readings, each with its noise and lag.
 *
 *     moving average over whole turns;  behind a median or a moving average the largest factor that keeps the noise limit
 *
 * @param request - Limits, pulses per turn
 * @param recommended - Factor recommended, and that of its shift if there is one
 * @param here - Readings at the speed of the sampling
 * @param everywhere - Readings at every speed at which the limits apply
 * @returns Exponential filters, moving average, medians, and filters of several stages
 * @throws {DomainError} `not-finite`
 * @see NIST/SEMATECH e-Handbook 6.3.2.4; `noiseGain`, `sineGain`
 * @example filterAlternatives({ sampling: { frequencyHz: exact(10) }, noiseMPerS: exact(1), limits: { noiseAfterMPerS: 0.5 } }, { factor: 0.4 }, { speedMPerS: 0, intervalS: exact(0.1), noiseMPerS: exact(1) }, [{ speedMPerS: 0, intervalS: exact(0.1), noiseMPerS: exact(1) }])[1].filter // {"movingAverage":4}
 */
export function filterAlternatives(
  request: FilterDesignRequest,
  recommended: { readonly factor: number; readonly shiftFactor?: number },
  here: Readings,
  everywhere: readonly Readings[],
): Alternative[] {
  const { factor, shiftFactor } = recommended
  const turn = request.pulsesPerTurn
  const rows: Alternative[] = []
  const add = (kind: Alternative['kind'], filter: Filter) => {
    const row: Mutable<Alternative> = {
      kind,
      filter,
      meets: meetsLimits(request.limits ?? {}, filter, everywhere),
      badReadingsIgnored: ((filter.median ?? 1) - 1) / 2,
      ...filterEffect(filter, here),
    }
    if (turn !== undefined && turn > 1) {
      row.oncePerTurnGain = sineGain(filter, 1 / turn)
      row.freeOfRingErrors = filter.movingAverage !== undefined && filter.movingAverage % turn === 0
    }
    rows.push(row)
  }
  add('exponential', { factor })
  if (shiftFactor !== undefined) add('exponential-by-shift', { factor: shiftFactor })
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
