import type { Filter } from './filter.js'
import { FilterRun } from './filter-run.js'

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
  readonly display: { readonly everyS: number }
}

/** Indicated speeds for a pulse train, one per update. */
export interface Shown {
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
 * @example Array.from(shownSpeeds(Float64Array.of(0.5, 1, 1.5), { pulsesPerM: 2, timerTickS: 0, filterOn: 'speed', zeroTimeoutS: 1, betweenPulses: 'bound', display: { everyS: 1 } }, 3).speedsMPerS) // [1,1,0]
 */
export function shownSpeeds(timesS: Float64Array, readOut: ReadOut, updates: number): Shown {
  const {
    pulsesPerM,
    timerTickS,
    timerBits,
    display: { everyS },
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
    const nowS = (j + 1) * everyS
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
