import { at, DomainError } from '../errors.js'
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

/** How the program behind the pick-up turns pulses into a shown speed. */
export interface ReadOut {
  readonly pulsesPerM: number
  /** Length of a count of the timer; 0 for a timer without steps. */
  readonly timerTickS: number
  /** Width of the counter; left out: it never wraps. */
  readonly timerBits?: number
  readonly filter?: Filter
  /** What is filtered: the speed of each period, or the period itself. */
  readonly filterOn: 'speed' | 'period'
  /** Silence after which zero is shown; left out: never. */
  readonly zeroTimeoutS?: number
  /** Until then: the last value, or the smaller of it and the speed that the silence still admits. */
  readonly whileSilent: 'hold' | 'bound'
  readonly displayEveryS: number
}

export interface SimulationRequest extends ReadOut {
  readonly ring: RingFaults
  readonly profile: readonly ProfilePoint[]
  readonly missed: number
  readonly extra: number
  readonly edgeJitterS: number
  /** Start of the generator: the same start, the same noise. [0 .. 2³² − 1] */
  readonly start: number
  /** Most points of each series. */
  readonly seriesPoints: number
}

/** One line of a plot in flat form: x, y, x, y … */
export type FlatPoints = Float64Array

export interface Simulation {
  readonly pulses: number
  readonly missedPulses: number
  readonly extraPulses: number
  readonly displayUpdates: number
  /** Two pulses in one count of the timer: a reading that has to be thrown away. */
  readonly pulsesInOneTick: number
  readonly rmsErrorMPerS: number
  readonly peakErrorMPerS: number
  readonly peakErrorAtS: number
  /** Time by which the display runs behind on the ramps; absent without a ramp. */
  readonly lagS?: number
  /** From the end of the largest change of speed until its last 5 % are left; absent when there is none or it is not reached. */
  readonly settling95S?: number
  /** From standstill until zero is shown, the longest; absent when there is none or it is not reached. */
  readonly timeToZeroS?: number
  /** Spread (rms about the mean) and mean error of what is shown at constant speed, once settled. */
  readonly steadySpreadMPerS?: number
  readonly steadyBiasMPerS?: number
  readonly trueSpeed: FlatPoints
  readonly shownSpeed: FlatPoints
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/** Most pulses and most display updates of one simulation. */
export const MAX_PULSES = 2_000_000
export const MAX_UPDATES = 2_000_000

/**
 * Size of the work that a simulation is: pulses of the ring and display updates.
 *
 *     pulses = K·s,  updates = duration/period
 *
 * K is pulses per distance, s the way gone.
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
  const end = at('/profile', () => stretchesOf(request.profile)).at(-1)!
  const pulses = Math.ceil(end.endM * request.pulsesPerM)
  const updates = updatesBy(end.endS, request.displayEveryS)
  for (const [what, count, most] of [
    ['pulses', pulses, MAX_PULSES],
    ['display updates', updates, MAX_UPDATES],
  ] as const) {
    if (count > most) {
      throw new DomainError(
        'simulation-too-long',
        `profile: expected at most ${most} ${what}, got ${count}`,
        {
          pointer: '/profile',
          most,
          count,
        },
      )
    }
  }
  return { pulses, updates }
}

/** Shown speeds of a pulse train, one an update. */
interface Shown {
  readonly speedsMPerS: Float64Array
  /** The same without the bound while no pulse comes. */
  readonly heldMPerS: Float64Array
  /** Update from which a reading was there for the first time. */
  readonly firstUpdate: number
  readonly pulsesInOneTick: number
}

/**
 * What a display shows of a pulse train.
 *
 *     reading = 1/(K·Δn·tick), then y += a·(x − y) behind median and moving average;  silent for t: min(last, 1/(K·t)) or last;  zero after the timeout
 *
 * K is pulses per distance, a the smoothing factor.
 *
 * Δn is the difference of two counts, modulo 2^bits where the counter wraps: right as long as a period fits into the
 * counter, and wrong without a sign of it beyond. After a zero the first pulse starts the clock and the second gives a reading.
 *
 * @param timesS - Moments of the pulses, ascending
 * @param readOut - Timer, filter, zero handling, display
 * @param updates - Number of display updates; update j is at (j + 1)·period
 * @returns Shown speed at each update
 * @see unsigned subtraction survives a wrap; no pulse for t bounds the speed by 1/(K·t) (derived)
 * @example Array.from(shownSpeeds(Float64Array.of(0.5, 1, 1.5), { pulsesPerM: 2, timerTickS: 0, filterOn: 'speed', zeroTimeoutS: 1, whileSilent: 'bound', displayEveryS: 1 }, 3).speedsMPerS) // [1,1,0]
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
  const bound = readOut.whileSilent === 'bound'
  const run = readOut.filter === undefined ? undefined : new FilterRun(readOut.filter)
  // Without steps the time itself is counted; a modulus of infinity leaves a difference as it is.
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

/** Mean and spread about it, one value after the other (Welford). */
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

/** A moment that an update falls on counts whatever its last bits. */
const LAST_BITS = 1e-9
/** Updates up to a moment. */
const updatesBy = (timeS: number, everyS: number) => Math.floor(timeS / everyS + LAST_BITS)
/** First update at or after a moment. */
const updateAt = (timeS: number, everyS: number) => Math.max(0, Math.ceil(timeS / everyS - LAST_BITS) - 1)

/** Updates of a stretch: those from its start on and before its end; at the end of the drive that one too. */
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

/** How far the bound while no pulse comes lowers the display at constant speed. */
interface Dips {
  /** Largest share of the speed. */
  readonly deepest: number
  /** Spread at constant speed without it. */
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
  // A car that moves from the start was moving before: what is shown before the first reading says nothing about the program.
  const first = stretches[0]!.startMPerS > 0 ? shown.firstUpdate : 0
  // Readings until a change is forgotten to a thousandth; two more for the period that straddles the change.
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

/** The steady stretch behind the largest change of speed, and that change; both ends moving. */
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

/** At most `points` of the updates: the lowest and the highest shown of each bucket, so that no spike is lost. */
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

/** A dip of the display that is seen: half a unit at 100. */
const SEEN_DIP = 0.005

const percentOf = (share: number) => `${Number((100 * share).toPrecision(3))} %`
const kmhOf = (speedMPerS: number) => `${Number((3.6 * speedMPerS).toFixed(2))} km/h`

/** Late pulses look like a slower car to a bound that takes every gap for the mean one. */
function boundNotes(
  { missed, edgeJitterS }: SimulationRequest,
  gapErrors: Float64Array,
  spreadMPerS: number,
  { deepest, heldSpreadMPerS }: Dips,
): Note[] {
  if (deepest <= SEEN_DIP) return []
  const widest = gapErrors.reduce((most, error) => Math.max(most, error), 0)
  const uneven = widest > SEEN_DIP
  const late = [
    uneven ? `gaps of the ring up to ${percentOf(widest)} wider than the mean` : undefined,
    missed > 0 ? 'missed pulses' : undefined,
    edgeJitterS > 0 ? 'edges that come late' : undefined,
  ].filter((cause) => cause !== undefined)
  const cause = late.length > 0 ? late.join(', ') : 'periods longer than the mean'
  const factor = Math.ceil((1 + widest) * 100) / 100
  const remedy = uneven
    ? `Let the program bound only what the widest gap admits, ${factor}/(pulses per distance × silence), or hold the last value.`
    : 'Hold the last value, or let the program bound only by 2/(pulses per distance × silence), which one missed pulse does not reach.'
  return [
    {
      code: 'bound-dips',
      level: 'caution',
      text: `While no pulse comes, the bound takes ${cause} for a slower car: at constant speed the display dips by up to ${percentOf(deepest)}, and its spread is ${kmhOf(spreadMPerS)} where it would be ${kmhOf(heldSpreadMPerS)} with the last value held. A mean over a turn does not take that away. ${remedy}`,
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
          ? 'The car stands but the display never shows zero: give zeroTimeout.'
          : 'The profile ends, or the car moves on, before the display shows zero.',
    })
  }
  if (request.timerBits !== undefined && request.timerTickS > 0) {
    const wrapS = 2 ** request.timerBits * request.timerTickS
    const lowest = 1 / (request.pulsesPerM * wrapS)
    if ((request.zeroTimeoutS ?? Number.POSITIVE_INFINITY) > wrapS) {
      notes.push({
        code: 'counter-wraps-in-a-period',
        level: 'caution',
        text: `The counter wraps every ${wrapS} s, sooner than zero is shown: below ${lowest * 3.6} km/h a period no longer fits, and a slow car reads as a fast one. Use a wider counter, a longer tick or a shorter zeroTimeout.`,
      })
    }
  }
  if (result.pulsesInOneTick > 0) {
    notes.push({
      code: 'pulses-in-one-tick',
      level: 'caution',
      text: `${result.pulsesInOneTick} pulses came within one count of the timer after another and gave no reading: the tick is too long, or pulses are doubled.`,
    })
  }
  const { gapErrors, dips, steadySpreadMPerS } = result
  if (dips !== undefined && steadySpreadMPerS !== undefined)
    notes.push(...boundNotes(request, gapErrors, steadySpreadMPerS, dips))
  if (result.lagS !== undefined) {
    notes.push({
      code: 'lag-at-updates',
      level: 'info',
      text: 'Errors and lag are taken at the moments when the display changes; what a driver sees is older by half a display period on the average.',
    })
  }
  return notes
}

/**
 * A drive, its pulses, and what a display makes of them.
 *
 *     lag = Σ (true − shown)·a / Σ a²  over the ramps;   spread = rms of shown about its mean at constant speed
 *
 * a is the acceleration.
 *
 * Deterministic: the same request gives the same answer to the last bit.
 *
 * @param request - Ring, drive, disturbances, timer, filter, display. Display period 1e-4 s and up
 * @returns Statistics against the true speed, and both speeds as decimated series
 * @throws {DomainError} `simulation-too-long`, those of `stretchesOf`, `ringGapErrors`, `checkedFilter`
 * @see NIST/SEMATECH e-Handbook 6.3.2.4 (filter); the rest derived
 * @example simulate({ pulsesPerM: 4, ring: { pulsesPerTurn: 8 }, profile: [{ tS: 0, speedMPerS: 10 }, { tS: 10, speedMPerS: 10 }], missed: 0, extra: 0, edgeJitterS: 0, timerTickS: 0, filterOn: 'speed', whileSilent: 'hold', displayEveryS: 0.1, start: 1, seriesPoints: 100 }).pulses // 400 ± 0
 */
export function simulate(request: SimulationRequest): Simulation {
  const { updates } = simulationSize(request)
  const stretches = stretchesOf(request.profile)
  const random = generator(request.start)
  const gapErrors = at('/ring', () => ringGapErrors(request.ring, random))
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
