import type { Mutable } from '../mutable.js'
import type { Stretch } from './profile.js'
import { settlingSamples } from './response.js'
import type { ReadOut, Shown } from './shown-speeds.js'

/** The display against the true speed. */
export interface DisplayStatistics {
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

/**
 * Number of display updates up to a moment.
 *
 *     ⌊t / T⌋, an update that coincides with the moment but for rounding counted
 *
 * @param timeS - t, moment since the start. [s]
 * @param everyS - T, time between two updates. [s, > 0]
 * @returns Updates
 * @see definition (derived)
 * @example updatesBy(1.2, 0.1) // 12 ± 0
 */
export function updatesBy(timeS: number, everyS: number): number {
  return Math.floor(timeS / everyS + LAST_BITS)
}

/** First update at or after a moment. */
const updateAt = (timeS: number, everyS: number) => Math.max(0, Math.ceil(timeS / everyS - LAST_BITS) - 1)

/** Updates of a stretch: from its start to before its end, or to the last update at the end of the drive. */
function updatesOf({ startS, endS }: Stretch, everyS: number, updates: number): [number, number] {
  const from = updateAt(startS, everyS)
  const to = updateAt(endS, everyS)
  return [from, Math.max(from, to >= updates - 1 ? updates : to)]
}

/** How far the silence bound lowers the display at constant speed. */
export interface Dips {
  /** Maximum, as a share of the speed. */
  readonly deepest: number
  /** Spread at constant speed without the bound. */
  readonly heldSpreadMPerS: number
}

/** Error of the display over the whole drive. */
class DriveError {
  private squares = 0
  private count = 0
  private peak = 0
  private behind = 0
  private steepness = 0
  constructor(private peakAt: number) {}

  add(j: number, value: number, error: number, accelerationMPerS2: number): void {
    this.squares += error * error
    this.count++
    if (Math.abs(error) > this.peak) {
      this.peak = Math.abs(error)
      this.peakAt = j
    }
    if (accelerationMPerS2 !== 0 && value > 0) {
      this.behind -= error * accelerationMPerS2
      this.steepness += accelerationMPerS2 * accelerationMPerS2
    }
  }

  statistics(everyS: number): Mutable<DisplayStatistics> {
    const { squares, count, peak, peakAt, behind, steepness } = this
    const result: Mutable<DisplayStatistics> = {
      rmsErrorMPerS: count === 0 ? 0 : Math.sqrt(squares / count),
      peakErrorMPerS: peak,
      peakErrorAtS: (peakAt + 1) * everyS,
    }
    if (steepness > 0) result.lagS = behind / steepness
    return result
  }
}

/** Display at constant speed, once settled, over all such stretches. */
class SteadyDisplay {
  private squares = 0
  private heldSquares = 0
  private error = 0
  private count = 0
  private stretches = 0
  deepest = 0

  add(steady: Spread, held: Spread): void {
    if (steady.count <= 1) return
    this.squares += steady.squares
    this.heldSquares += held.squares
    this.count += steady.count
    this.stretches++
    this.error += steady.mean * steady.count
  }

  statistics(): { spreadMPerS: number; biasMPerS: number; dips: Dips } | undefined {
    const { squares, heldSquares, error, count, stretches, deepest } = this
    if (count === 0) return undefined
    return {
      spreadMPerS: Math.sqrt(squares / (count - stretches)),
      biasMPerS: error / count,
      dips: { deepest, heldSpreadMPerS: Math.sqrt(heldSquares / (count - stretches)) },
    }
  }
}

/**
 * The display compared with the true speed of a drive.
 *
 *     lag = Σ (true − shown)·a / Σ a²  over the ramps;   spread = rms of the indicated speed about its mean at constant speed
 *
 * a is the acceleration. A stretch of constant speed counts once a change before it has decayed to a thousandth.
 *
 * @param shown - Indicated speed at each update
 * @param stretches - The drive
 * @param readOut - Pulses per distance [1/m], filter, time between updates [s]
 * @returns Statistics; those that the drive does not determine are absent. `dips`: what the bound between pulses does at constant speed
 * @see definitions (derived)
 * @example displayStatistics({ speedsMPerS: Float64Array.of(2, 2), heldMPerS: Float64Array.of(2, 2), firstUpdate: 0, pulsesInOneTick: 0 }, stretchesOf([{ tS: 0, speedMPerS: 3 }, { tS: 2, speedMPerS: 3 }]), { pulsesPerM: 4, display: { everyS: 1 } }).rmsErrorMPerS // 1 ± 1e-12
 */
export function displayStatistics(
  shown: Shown,
  stretches: readonly Stretch[],
  readOut: Pick<ReadOut, 'display' | 'pulsesPerM' | 'filter'>,
): DisplayStatistics & { readonly dips?: Dips } {
  const {
    display: { everyS },
    pulsesPerM,
    filter,
  } = readOut
  const { speedsMPerS, heldMPerS } = shown
  const updates = speedsMPerS.length
  // A car that moves at the start was moving before: the display before the first reading is not representative.
  const first = stretches[0]!.startMPerS > 0 ? shown.firstUpdate : 0
  // Readings until a change has decayed to a thousandth, plus two for the period that straddles the change.
  const forgotten = (filter === undefined ? 1 : settlingSamples(filter, 0.999)) + 2
  const whole = new DriveError(first)
  const atConstantSpeed = new SteadyDisplay()
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
      whole.add(j, value, error, a)
      if (nowS >= settledS) {
        steady.add(error)
        held.add(heldMPerS[j]! - startMPerS)
        atConstantSpeed.deepest = Math.max(atConstantSpeed.deepest, (heldMPerS[j]! - value) / startMPerS)
      }
    }
    atConstantSpeed.add(steady, held)
  }
  const result: Mutable<DisplayStatistics & { dips?: Dips }> = whole.statistics(everyS)
  const constant = atConstantSpeed.statistics()
  if (constant !== undefined) {
    result.steadySpreadMPerS = constant.spreadMPerS
    result.steadyBiasMPerS = constant.biasMPerS
    result.dips = constant.dips
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

/**
 * Whether the car stands still in a stretch.
 *
 *     v₀ = v₁ = 0
 *
 * v₀ and v₁ are the speeds at its start and end.
 *
 * @param stretch - Stretch of a drive
 * @returns Whether it is a stop
 * @see definition
 * @example stretchesOf([{ tS: 0, speedMPerS: 0 }, { tS: 2, speedMPerS: 0 }]).map(isStop)[0] // true
 */
export function isStop(stretch: Pick<Stretch, 'startMPerS' | 'endMPerS'>): boolean {
  return stretch.startMPerS === 0 && stretch.endMPerS === 0
}

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
