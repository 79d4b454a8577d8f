import { DomainError, withPointer } from '../errors.js'
import type { Note } from '../measure/notes.js'
import { orderedSources, type SourceId } from '../measure/sources.js'
import type { Mutable } from '../mutable.js'
import type { Filter } from './filter.js'
import { FilterRun } from './filter-run.js'
import { type ProfilePoint, type Stretch, stretchesOf } from './profile.js'
import { pulseTrain } from './pulse-train.js'
import { generator } from './random.js'
import { settlingSamples } from './response.js'
import { type RingFaults, ringGapErrors } from './ring.js'

/** How firmware turns pulses into an indicated speed. */
export interface ReadOut {
  readonly pulsesPerM: number
  /** Duration of one count of the timer; 0 for a timer without steps. */
  readonly timerTickS: number
  /** Width of the counter; absent: it never wraps. */
  readonly timerBits?: number
  readonly filter?: Filter
  /** Quantity that is filtered: the speed of each period, or the period itself. */
  readonly filterOn: 'speed' | 'period'
  /** Silence after which the display shows zero; absent: never. */
  readonly zeroTimeoutS?: number
  /** Until then: the last value, or the minimum of it and the speed bound that follows from the silence. */
  readonly betweenPulses: 'hold' | 'bound'
  readonly displayEveryS: number
}

export interface SimulationRequest extends ReadOut {
  readonly ring: RingFaults
  readonly profile: readonly ProfilePoint[]
  readonly missed: number
  readonly extra: number
  readonly edgeJitterS: number
  /** Seed of the generator: the same seed gives the same noise. [0 .. 2³² − 1] */
  readonly seed: number
  /** Maximum number of points of each series. */
  readonly seriesPoints: number
}

/** One curve as a flat list: x, y, x, y … */
export type FlatPoints = Float64Array

export interface Simulation {
  readonly pulses: number
  readonly missedPulses: number
  readonly extraPulses: number
  readonly displayUpdates: number
  /** Pulses within one timer count of the pulse before: they give no reading. */
  readonly pulsesInOneTick: number
  readonly rmsErrorMPerS: number
  readonly peakErrorMPerS: number
  readonly peakErrorAtS: number
  /** Lag of the display on ramps; absent without a ramp. */
  readonly lagS?: number
  /** Time from the end of the largest speed change until the display is within 5 % of it; absent without a change or if not reached. */
  readonly settling95S?: number
  /** Maximum time from standstill until the display shows zero; absent without a stop or if not reached. */
  readonly timeToZeroS?: number
  /** Spread (rms about the mean) and mean error of the indicated speed at constant speed, once settled. */
  readonly steadySpreadMPerS?: number
  readonly steadyBiasMPerS?: number
  readonly trueSpeed: FlatPoints
  readonly shownSpeed: FlatPoints
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
 * @throws {DomainError} those of `stretchesOf`; `simulation-too-long`
 * @see speed integrated over time (derived)
 * @example simulationSize({ pulsesPerM: 4, displayEveryS: 0.5, profile: [{ tS: 0, speedMPerS: 10 }, { tS: 10, speedMPerS: 10 }] }) // {"pulses":400,"updates":20}
 */
export function simulationSize(
  request: Pick<SimulationRequest, 'pulsesPerM' | 'displayEveryS' | 'profile'>,
): { pulses: number; updates: number } {
  const end = withPointer('/profile', () => stretchesOf(request.profile)).at(-1)!
  const pulses = Math.ceil(end.endM * request.pulsesPerM)
  const updates = updatesBy(end.endS, request.displayEveryS)
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

/** Indicated speeds for a pulse train, one per update. */
interface Shown {
  readonly speedsMPerS: Float64Array
  /** The same without the bound during silence. */
  readonly heldMPerS: Float64Array
  /** First update with a reading. */
  readonly firstUpdate: number
  readonly pulsesInOneTick: number
}

/**
 * Indicated speeds for a pulse train.
 *
 *     reading = 1/(K·Δn·tick), then y += a·(x − y) after median and moving average;  silent for t: min(last, 1/(K·t)) or last;  zero after the timeout
 *
 * K is pulses per distance, a the smoothing factor.
 *
 * Δn is the difference of two counts, modulo 2^bits if the counter wraps: correct as long as a period fits into the counter,
 * silently wrong beyond. After a zero, the first pulse starts the timing and the second gives a reading.
 *
 * @param timesS - Times of the pulses, ascending
 * @param readOut - Timer, filter, zero handling, display
 * @param updates - Number of display updates; update j is at (j + 1)·period
 * @returns Indicated speed at each update
 * @see unsigned subtraction across a wrap; without a pulse for t the speed is at most 1/(K·t) (derived)
 * @example Array.from(shownSpeeds(Float64Array.of(0.5, 1, 1.5), { pulsesPerM: 2, timerTickS: 0, filterOn: 'speed', zeroTimeoutS: 1, betweenPulses: 'bound', displayEveryS: 1 }, 3).speedsMPerS) // [1,1,0]
 */
export function shownSpeeds(timesS: Float64Array, readOut: ReadOut, updates: number): Shown {
  const {
    pulsesPerM,
    timerTickS,
    timerBits,
    displayEveryS,
    zeroTimeoutS = Number.POSITIVE_INFINITY,
  } = readOut
  const onPeriod = readOut.filterOn === 'period'
  const bound = readOut.betweenPulses === 'bound'
  const run = readOut.filter === undefined ? undefined : new FilterRun(readOut.filter)
  // A timer without steps counts the time itself; an infinite modulus leaves differences unchanged.
  const perTick = timerTickS > 0 ? 1 / timerTickS : 1
  const modulus = timerBits === undefined ? Number.POSITIVE_INFINITY : 2 ** timerBits
  const scale = pulsesPerM / perTick
  const speedsMPerS = new Float64Array(updates)
  const heldMPerS = bound ? new Float64Array(updates) : speedsMPerS
  const { length } = timesS
  let next = 0
  let lastS = 0
  let lastCount = 0
  let clockRuns = false
  let hasReading = false
  let speed = 0
  let firstUpdate = updates
  let pulsesInOneTick = 0
  for (let j = 0; j < updates; j++) {
    const nowS = (j + 1) * displayEveryS
    for (; next < length; next++) {
      const timeS = timesS[next]!
      if (timeS > nowS) break
      const count = timerTickS > 0 ? Math.floor(timeS * perTick) : timeS
      if (clockRuns && timeS - lastS > zeroTimeoutS) {
        clockRuns = false
        hasReading = false
        run?.reset()
      }
      if (clockRuns) {
        let delta = count - lastCount
        if (delta >= modulus) delta %= modulus
        if (delta > 0) {
          const period = delta * scale
          if (run === undefined) speed = 1 / period
          else speed = onPeriod ? 1 / run.push(period) : run.push(1 / period)
          hasReading = true
        } else pulsesInOneTick++
      }
      clockRuns = true
      lastCount = count
      lastS = timeS
    }
    const silenceS = nowS - lastS
    if (hasReading && silenceS > zeroTimeoutS) {
      clockRuns = false
      hasReading = false
      run?.reset()
    }
    if (!hasReading) continue
    if (j < firstUpdate) firstUpdate = j
    heldMPerS[j] = speed
    // min(speed, 1/(K·silence)) without a division by zero.
    speedsMPerS[j] = bound && speed * pulsesPerM * silenceS > 1 ? 1 / (pulsesPerM * silenceS) : speed
  }
  return { speedsMPerS, heldMPerS, firstUpdate, pulsesInOneTick }
}

/** Running mean and sum of squares about it (Welford). */
class Spread {
  count = 0
  mean = 0
  squares = 0
  add(x: number): void {
    this.count++
    const delta = x - this.mean
    this.mean += delta / this.count
    this.squares += delta * (x - this.mean)
  }
}

/** Rounding tolerance for an update that coincides with a moment. */
const LAST_BITS = 1e-9
/** Number of updates up to a moment. */
const updatesBy = (timeS: number, everyS: number) => Math.floor(timeS / everyS + LAST_BITS)
/** First update at or after a moment. */
const updateAt = (timeS: number, everyS: number) => Math.max(0, Math.ceil(timeS / everyS - LAST_BITS) - 1)

/** Updates of a stretch: from its start to before its end, or to the last update at the end of the drive. */
function updatesOf({ startS, endS }: Stretch, everyS: number, updates: number): [number, number] {
  const from = updateAt(startS, everyS)
  const to = updateAt(endS, everyS)
  return [from, Math.max(from, to >= updates - 1 ? updates : to)]
}

type Statistics = Pick<
  Simulation,
  | 'rmsErrorMPerS'
  | 'peakErrorMPerS'
  | 'peakErrorAtS'
  | 'lagS'
  | 'settling95S'
  | 'timeToZeroS'
  | 'steadySpreadMPerS'
  | 'steadyBiasMPerS'
>

/** How far the silence bound lowers the display at constant speed. */
interface Dips {
  /** Maximum, as a share of the speed. */
  readonly deepest: number
  /** Spread at constant speed without the bound. */
  readonly heldSpreadMPerS: number
}

function statisticsOf(
  shown: Shown,
  stretches: readonly Stretch[],
  readOut: ReadOut,
): Statistics & { dips?: Dips } {
  const { displayEveryS: everyS, pulsesPerM, filter } = readOut
  const { speedsMPerS, heldMPerS } = shown
  const updates = speedsMPerS.length
  // A car that moves at the start was moving before: the display before the first reading is not representative.
  const first = stretches[0]!.startMPerS > 0 ? shown.firstUpdate : 0
  // Readings until a change has decayed to a thousandth, plus two for the period that straddles the change.
  const forgotten = (filter === undefined ? 1 : settlingSamples(filter, 0.999)) + 2
  let squares = 0
  let count = 0
  let peak = 0
  let peakAt = first
  let behind = 0
  let steepness = 0
  let steadySquares = 0
  let heldSquares = 0
  let deepest = 0
  let steadyCount = 0
  let steadyStretches = 0
  let steadyError = 0
  for (const stretch of stretches) {
    const { startS, startMPerS, accelerationMPerS2: a } = stretch
    const [from, to] = updatesOf(stretch, everyS, updates)
    const steady = new Spread()
    const held = new Spread()
    const settledS =
      a === 0 && startMPerS > 0 ? startS + forgotten / (pulsesPerM * startMPerS) : Number.POSITIVE_INFINITY
    for (let j = Math.max(from, first); j < to; j++) {
      const nowS = (j + 1) * everyS
      const value = speedsMPerS[j]!
      const error = value - (startMPerS + a * (nowS - startS))
      squares += error * error
      count++
      if (Math.abs(error) > peak) {
        peak = Math.abs(error)
        peakAt = j
      }
      if (a !== 0 && value > 0) {
        behind -= error * a
        steepness += a * a
      }
      if (nowS >= settledS) {
        steady.add(error)
        held.add(heldMPerS[j]! - startMPerS)
        deepest = Math.max(deepest, (heldMPerS[j]! - value) / startMPerS)
      }
    }
    if (steady.count > 1) {
      steadySquares += steady.squares
      heldSquares += held.squares
      steadyCount += steady.count
      steadyStretches++
      steadyError += steady.mean * steady.count
    }
  }
  const result: Mutable<Statistics & { dips?: Dips }> = {
    rmsErrorMPerS: count === 0 ? 0 : Math.sqrt(squares / count),
    peakErrorMPerS: peak,
    peakErrorAtS: (peakAt + 1) * everyS,
  }
  if (steepness > 0) result.lagS = behind / steepness
  if (steadyCount > 0) {
    result.steadySpreadMPerS = Math.sqrt(steadySquares / (steadyCount - steadyStretches))
    result.steadyBiasMPerS = steadyError / steadyCount
    result.dips = {
      deepest,
      heldSpreadMPerS: Math.sqrt(heldSquares / (steadyCount - steadyStretches)),
    }
  }
  const settling = settlingOf(shown, stretches, everyS)
  if (settling !== undefined) result.settling95S = settling
  const zero = timeToZeroOf(shown, stretches, everyS)
  if (zero !== undefined) result.timeToZeroS = zero
  return result
}

/** The largest change of speed and the steady stretch after it; the car moves before and after. */
function largestChange(stretches: readonly Stretch[]) {
  let largest: { stretch: Stretch; change: number } | undefined
  // Speed of the last steady stretch, or at the start of the drive.
  let before = stretches[0]!.startMPerS
  for (const stretch of stretches) {
    if (stretch.accelerationMPerS2 !== 0) continue
    const change = stretch.startMPerS - before
    if (change !== 0 && stretch.startMPerS > 0 && Math.abs(change) > Math.abs(largest?.change ?? 0)) {
      largest = { stretch, change }
    }
    before = stretch.startMPerS
  }
  return largest
}

function settlingOf({ speedsMPerS }: Shown, stretches: readonly Stretch[], everyS: number) {
  const found = largestChange(stretches)
  if (found === undefined) return undefined
  const { stretch, change } = found
  const [from, to] = updatesOf(stretch, everyS, speedsMPerS.length)
  for (let j = from; j < to; j++) {
    if (Math.abs(speedsMPerS[j]! - stretch.startMPerS) <= 0.05 * Math.abs(change))
      return (j + 1) * everyS - stretch.startS
  }
  return undefined
}

const isStop = (stretch: Stretch) => stretch.startMPerS === 0 && stretch.endMPerS === 0

function timeToZeroOf({ speedsMPerS }: Shown, stretches: readonly Stretch[], everyS: number) {
  let longest: number | undefined
  for (const [index, stretch] of stretches.entries()) {
    if (index === 0 || !isStop(stretch)) continue
    const [from, to] = updatesOf(stretch, everyS, speedsMPerS.length)
    let j = from
    while (j < to && speedsMPerS[j] !== 0) j++
    if (j === to) return undefined
    longest = Math.max(longest ?? 0, (j + 1) * everyS - stretch.startS)
  }
  return longest
}

/** At most `points` of the updates: the minimum and maximum of each bucket, so that no spike is lost. */
function series(shown: Float64Array, stretches: readonly Stretch[], everyS: number, points: number) {
  const updates = shown.length
  const picked: number[] = []
  if (updates <= points) for (let j = 0; j < updates; j++) picked.push(j)
  else {
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
  }
  const trueSpeed = new Float64Array(2 * picked.length)
  const shownSpeed = new Float64Array(2 * picked.length)
  let at = 0
  for (const [index, j] of picked.entries()) {
    const nowS = (j + 1) * everyS
    while (nowS >= stretches[at]!.endS && at < stretches.length - 1) at++
    const stretch = stretches[at]!
    const trueMPerS =
      stretch.startMPerS + stretch.accelerationMPerS2 * (Math.min(nowS, stretch.endS) - stretch.startS)
    trueSpeed[2 * index] = nowS
    trueSpeed[2 * index + 1] = Math.max(0, trueMPerS)
    shownSpeed[2 * index] = nowS
    shownSpeed[2 * index + 1] = shown[j]!
  }
  return { trueSpeed, shownSpeed }
}

/** Visible dip of the display: half a unit at 100. */
const SEEN_DIP = 0.005

const percentOf = (share: number) => `${Number((100 * share).toPrecision(3))} %`
const kmhOf = (speedMPerS: number) => `${Number((3.6 * speedMPerS).toFixed(2))} km/h`

/** The silence bound assumes mean gaps, so a late pulse looks like a slower car. */
function boundNotes(
  { missed, edgeJitterS }: SimulationRequest,
  gapErrors: Float64Array,
  spreadMPerS: number,
  { deepest, heldSpreadMPerS }: Dips,
): Note[] {
  if (deepest <= SEEN_DIP) return []
  const widest = gapErrors.reduce((max, error) => Math.max(max, error), 0)
  const uneven = widest > SEEN_DIP
  const late = [
    uneven ? `gaps of the ring up to ${percentOf(widest)} wider than the mean` : undefined,
    missed > 0 ? 'missed pulses' : undefined,
    edgeJitterS > 0 ? 'late edges' : undefined,
  ].filter((cause) => cause !== undefined)
  const cause = late.length > 0 ? late.join(', ') : 'periods longer than the mean'
  const factor = Math.ceil((1 + widest) * 100) / 100
  const remedy = uneven
    ? `Relax the bound to what the widest gap allows, ${factor}/(pulses per distance × silence), or hold the last value.`
    : 'Hold the last value, or relax the bound to 2/(pulses per distance × silence), which one missed pulse does not reach.'
  return [
    {
      code: 'bound-dips',
      level: 'caution',
      text: `Between pulses, the bound mistakes ${cause} for a slower car: at constant speed the display dips by up to ${percentOf(deepest)}, and its spread is ${kmhOf(spreadMPerS)} instead of ${kmhOf(heldSpreadMPerS)} with the last value held. A mean over a turn does not remove that. ${remedy}`,
    },
  ]
}

function notesOf(
  request: SimulationRequest,
  stretches: readonly Stretch[],
  result: Statistics & { gapErrors: Float64Array; dips: Dips | undefined; pulsesInOneTick: number },
) {
  const notes: Note[] = []
  const stops = stretches.some((stretch, index) => index > 0 && isStop(stretch))
  if (stops && result.timeToZeroS === undefined) {
    notes.push({
      code: 'zero-not-shown',
      level: 'caution',
      text:
        request.zeroTimeoutS === undefined
          ? 'The car stops but the display never shows zero: give zeroTimeout.'
          : 'The profile ends, or the car moves off again, before the display shows zero.',
    })
  }
  if (request.timerBits !== undefined && request.timerTickS > 0) {
    const wrapS = 2 ** request.timerBits * request.timerTickS
    const lowest = 1 / (request.pulsesPerM * wrapS)
    if ((request.zeroTimeoutS ?? Number.POSITIVE_INFINITY) > wrapS) {
      notes.push({
        code: 'counter-wraps-in-a-period',
        level: 'caution',
        text: `The counter wraps every ${wrapS} s, before the display shows zero: below ${lowest * 3.6} km/h a period does not fit the counter, and a slow car reads as a fast one. Use a wider counter, a longer tick or a shorter zeroTimeout.`,
      })
    }
  }
  if (result.pulsesInOneTick > 0) {
    notes.push({
      code: 'pulses-in-one-tick',
      level: 'caution',
      text: `${result.pulsesInOneTick} pulses came within one timer count of the pulse before and gave no reading: the tick is too long, or pulses are doubled.`,
    })
  }
  const { gapErrors, dips, steadySpreadMPerS } = result
  if (dips !== undefined && steadySpreadMPerS !== undefined)
    notes.push(...boundNotes(request, gapErrors, steadySpreadMPerS, dips))
  if (result.lagS !== undefined) {
    notes.push({
      code: 'lag-at-updates',
      level: 'info',
      text: 'Errors and lag hold at the display updates; what a driver sees is on average half a display period older.',
    })
  }
  return notes
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
 * @param request - Ring, drive, disturbances, timer, filter, display. Display period at least 1e-4 s
 * @returns Statistics against the true speed, and both speeds as decimated series
 * @throws {DomainError} `simulation-too-long`, those of `stretchesOf`, `ringGapErrors`, `checkedFilter`
 * @see NIST/SEMATECH e-Handbook 6.3.2.4 (filter); the rest derived
 * @example simulate({ pulsesPerM: 4, ring: { pulsesPerTurn: 8 }, profile: [{ tS: 0, speedMPerS: 10 }, { tS: 10, speedMPerS: 10 }], missed: 0, extra: 0, edgeJitterS: 0, timerTickS: 0, filterOn: 'speed', betweenPulses: 'hold', displayEveryS: 0.1, seed: 1, seriesPoints: 100 }).pulses // 400 ± 0
 */
export function simulate(request: SimulationRequest): Simulation {
  const { updates } = simulationSize(request)
  const stretches = stretchesOf(request.profile)
  const random = generator(request.seed)
  const gapErrors = withPointer('/ring', () => ringGapErrors(request.ring, random))
  const train = pulseTrain({ ...request, gapErrors }, stretches, random)
  const shown = shownSpeeds(train.timesS, request, updates)
  const { dips, ...statistics } = statisticsOf(shown, stretches, request)
  const sources: SourceId[] = ['definitions', 'mersenne-twister']
  if (request.filter !== undefined) sources.push('nist-ewma')
  return {
    pulses: train.timesS.length,
    missedPulses: train.missed.length,
    extraPulses: train.extra.length,
    displayUpdates: updates,
    pulsesInOneTick: shown.pulsesInOneTick,
    ...statistics,
    ...series(shown.speedsMPerS, stretches, request.displayEveryS, request.seriesPoints),
    sources: orderedSources(sources),
    notes: notesOf(request, stretches, {
      ...statistics,
      gapErrors,
      dips,
      pulsesInOneTick: shown.pulsesInOneTick,
    }),
  }
}
