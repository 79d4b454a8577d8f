import { DomainError, withPointer } from '../errors.js'
import type { Note } from '../measure/notes.js'
import type { Series } from '../measure/series.js'
import type { SourceId } from '../measure/sources.js'
import { fromSi } from '../measure/units.js'
import { type DisplayStatistics, displayStatistics, updatesBy } from './display-statistics.js'
import { checkedFilter } from './filter.js'
import { type ProfilePoint, type Stretch, stretchesOf } from './profile.js'
import { pulseTrain } from './pulse-train.js'
import { generator } from './random.js'
import { type RingFaults, ringGapErrors } from './ring.js'
import { type ReadOut, shownSpeeds } from './shown-speeds.js'
import { simulationNotes } from './simulation-notes.js'

const DEFAULT_DISPLAY = { everyS: 0.1 }

/** What a simulation takes where the request is silent. */
const DEFAULTS = {
  ring: { pulsesPerTurn: 1 } as RingFaults,
  missed: 0,
  extra: 0,
  edgeJitterS: 0,
  timerTickS: 0,
  filterOn: 'speed' as ReadOut['filterOn'],
  betweenPulses: 'hold' as ReadOut['betweenPulses'],
  display: DEFAULT_DISPLAY,
  seed: 1,
  seriesPoints: 500,
}

export interface SimulationRequest extends Partial<ReadOut> {
  readonly pulsesPerM: number
  /** Left out: one pulse a turn, without error. */
  readonly ring?: RingFaults
  readonly profile: readonly ProfilePoint[]
  /** Probabilities, and standard deviation of an edge; left out: 0. */
  readonly missed?: number
  readonly extra?: number
  readonly edgeJitterS?: number
  /** Seed of the generator: the same seed gives the same noise. [0 .. 2³² − 1] Left out: 1. */
  readonly seed?: number
  /** Maximum number of points of each series; left out: 500. */
  readonly seriesPoints?: number
}

export interface Simulation extends DisplayStatistics {
  readonly pulses: number
  readonly missedPulses: number
  readonly extraPulses: number
  readonly displayUpdates: number
  /** Pulses within one timer count of the pulse before: they give no reading. */
  readonly pulsesInOneTick: number
  /** True and indicated speed [km/h] over time [s]. */
  readonly series: readonly Series[]
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/** Maximum number of pulses and of display updates of one simulation. */
export const MAX_PULSES = 2_000_000
export const MAX_UPDATES = 2_000_000

/**
 * Size of a simulation: pulses of the ring and display updates.
 *
 *     pulses = K·s,  updates = duration/period
 *
 * K is pulses per distance, s the distance traveled.
 *
 * @param request - Simulation
 * @returns Both counts
 * @throws {DomainError} those of `checkedFilter` and `stretchesOf`; `simulation-too-long`
 * @see speed integrated over time (derived)
 * @example simulationSize({ pulsesPerM: 4, display: { everyS: 0.5 }, profile: [{ tS: 0, speedMPerS: 10 }, { tS: 10, speedMPerS: 10 }] }) // {"pulses":400,"updates":20}
 */
export function simulationSize(
  request: Pick<SimulationRequest, 'pulsesPerM' | 'display' | 'profile' | 'filter'>,
): { pulses: number; updates: number } {
  const { filter, display = DEFAULT_DISPLAY } = request
  if (filter !== undefined) withPointer('/filter', () => checkedFilter(filter))
  const end = withPointer('/profile', () => stretchesOf(request.profile)).at(-1)!
  const pulses = Math.ceil(end.endM * request.pulsesPerM)
  const updates = updatesBy(end.endS, display.everyS)
  for (const [what, count, max] of [
    ['pulses', pulses, MAX_PULSES],
    ['display updates', updates, MAX_UPDATES],
  ] as const) {
    if (count > max) {
      throw new DomainError('simulation-too-long', `profile: expected at most ${max} ${what}, got ${count}`, {
        pointer: '/profile',
        max,
        count,
      })
    }
  }
  return { pulses, updates }
}

/** At most `points` of the updates: the minimum and maximum of each bucket, so that no spike is lost. */
function extremesOf(shown: Float64Array, points: number): number[] {
  const updates = shown.length
  if (updates <= points) return Array.from(shown, (_, j) => j)
  const picked: number[] = []
  const buckets = Math.floor(points / 2)
  for (let bucket = 0; bucket < buckets; bucket++) {
    const from = Math.floor((bucket * updates) / buckets)
    const to = Math.floor(((bucket + 1) * updates) / buckets)
    let low = from
    let high = from
    for (let j = from; j < to; j++) {
      if (shown[j]! < shown[low]!) low = j
      if (shown[j]! > shown[high]!) high = j
    }
    picked.push(Math.min(low, high))
    if (low !== high) picked.push(Math.max(low, high))
  }
  return picked
}

/** True and indicated speed [km/h] over time [s]. */
function seriesOf(
  shown: Float64Array,
  stretches: readonly Stretch[],
  everyS: number,
  maxPoints: number,
): readonly Series[] {
  const trueSpeed: Array<[number, number]> = []
  const shownSpeed: Array<[number, number]> = []
  let at = 0
  for (const j of extremesOf(shown, maxPoints)) {
    const nowS = (j + 1) * everyS
    while (nowS >= stretches[at]!.endS && at < stretches.length - 1) at++
    const stretch = stretches[at]!
    const trueMPerS =
      stretch.startMPerS + stretch.accelerationMPerS2 * (Math.min(nowS, stretch.endS) - stretch.startS)
    trueSpeed.push([nowS, fromSi('speed', 'kmh', Math.max(0, trueMPerS))])
    shownSpeed.push([nowS, fromSi('speed', 'kmh', shown[j]!)])
  }
  return [
    { name: 'true', unit: 's, km/h', points: trueSpeed },
    { name: 'shown', unit: 's, km/h', points: shownSpeed },
  ]
}

/**
 * Simulation of a drive, its pulses, and the indicated speed.
 *
 *     lag = Σ (true − shown)·a / Σ a²  over the ramps;   spread = rms of the indicated speed about its mean at constant speed
 *
 * a is the acceleration.
 *
 * Deterministic: the same request gives exactly the same answer.
 *
 * @param given - Ring, drive, disturbances, timer, filter, display. Display period at least 1e-4 s
 * @returns Statistics against the true speed, and both speeds as decimated series
 * @throws {DomainError} `simulation-too-long`, those of `stretchesOf`, `ringGapErrors`, `checkedFilter`
 * @see NIST/SEMATECH e-Handbook 6.3.2.4 (filter); the rest derived
 * @example simulate({ pulsesPerM: 4, ring: { pulsesPerTurn: 8 }, profile: [{ tS: 0, speedMPerS: 10 }, { tS: 10, speedMPerS: 10 }] }).pulses // 400 ± 0
 */
export function simulate(given: SimulationRequest): Simulation {
  const { updates } = simulationSize(given)
  const request = { ...DEFAULTS, ...given }
  const stretches = stretchesOf(request.profile)
  const random = generator(request.seed)
  const gapErrors = withPointer('/ring', () => ringGapErrors(request.ring, random))
  const train = pulseTrain({ ...request, gapErrors }, stretches, random)
  const shown = shownSpeeds(train.timesS, request, updates)
  const { pulsesInOneTick } = shown
  const { dips, ...statistics } = displayStatistics(shown, stretches, request)
  const sources: SourceId[] = ['definitions', 'mersenne-twister']
  if (request.filter !== undefined) sources.push('nist-ewma')
  const simulated = { statistics, gapErrors, pulsesInOneTick }
  return {
    pulses: train.timesS.length,
    missedPulses: train.missed.length,
    extraPulses: train.extra.length,
    displayUpdates: updates,
    pulsesInOneTick,
    ...statistics,
    series: seriesOf(shown.speedsMPerS, stretches, request.display.everyS, request.seriesPoints),
    sources,
    notes: simulationNotes(request, stretches, dips === undefined ? simulated : { ...simulated, dips }),
  }
}
