import { DomainError, finite } from '../errors.js'
import { median } from '../measure/readings.js'
import type { Mutable } from '../mutable.js'

/** A recorded log: periods, or readings of a clock at each pulse, in one unit. */
export interface PulseLog {
  readonly values: Float64Array
  readonly holds: 'periods' | 'times'
  /** Length of the unit that the values are in. */
  readonly unitS: number
}

/** A log made continuous. */
export interface ReadLog {
  /** Moment of each pulse since the first, never decreasing. */
  readonly timesS: Float64Array
  /** Step in which the values are written; absent when they show none. */
  readonly resolutionS?: number
  /** Counter length that the jumps back fit, and how many there are; absent without one. */
  readonly wrapS?: number
  readonly wraps: number
}

/** Values looked at for the step: enough that a step which half of them miss would show. */
const LOOKED_AT = 20_000
const MAX_DECIMALS = 12

const greatestCommonDivisor = (a: number, b: number): number => {
  let [x, y] = [a, b]
  while (y !== 0) [x, y] = [y, x % y]
  return x
}

/** Decimals that the values are written with, when they are: each is a whole number of 10^-d. */
function decimalsOf(values: Float64Array): number | undefined {
  for (let decimals = 0; decimals <= MAX_DECIMALS; decimals++) {
    const scale = 10 ** decimals
    const whole = values.every((value) => {
      const scaled = Math.abs(value) * scale
      // A double keeps so many digits; more than a millionth of a step off is no decimal.
      return scaled < 2 ** 50 && Math.abs(scaled - Math.round(scaled)) <= Math.max(1e-6, scaled * 4e-16)
    })
    if (whole) return decimals
  }
  return undefined
}

/**
 * Step of the timer behind a log, as far as the values show it.
 *
 *     step = greatest common divisor of the values, as whole numbers of their last decimal
 *
 * Periods that are all a multiple of 4 µs come from a timer of 4 µs. Values with more than twelve decimals, or all alike, show
 * none.
 *
 * @param values - Periods, or differences of times, any unit; the first 20 000 are looked at
 * @returns Step in the unit of the values; undefined when they show none
 * @see common divisor (derived)
 * @example timerStep(Float64Array.of(2500, 2504, 2496)) // 4 ± 0
 * @example timerStep(Float64Array.of(2.5, 2.125, 2.75)) // 0.125 ± 0
 */
export function timerStep(values: Float64Array): number | undefined {
  const some = values.subarray(0, LOOKED_AT)
  // A value that only repeats tells no step: 24, 25, 25 counts do, 25, 25, 25 do not.
  const decimals = new Set(some).size < 2 ? undefined : decimalsOf(some)
  if (decimals === undefined) return undefined
  const scale = 10 ** decimals
  let divisor = 0
  for (const value of some) divisor = greatestCommonDivisor(divisor, Math.round(Math.abs(value) * scale))
  return divisor === 0 ? undefined : divisor / scale
}

/** Periods between these shares of the usual one are plausible for the period in which a counter wrapped. */
const PLAUSIBLE = { least: 0.1, most: 20 }

/** Power of two of the step that makes a jump back a plausible period. */
function wrapFor(back: number, step: number, usual: number, atLeast: number): number | undefined {
  for (let bits = 8; bits <= 48; bits++) {
    const modulus = 2 ** bits * step
    if (modulus <= atLeast) continue
    const period = back + modulus
    if (period > PLAUSIBLE.most * usual) return undefined
    if (period >= PLAUSIBLE.least * usual) return modulus
  }
  return undefined
}

function defaultPeriod(differences: Float64Array): number {
  const forward = Array.from(differences.subarray(0, LOOKED_AT)).filter((value) => value > 0)
  return forward.length === 0 ? 0 : median(forward)
}

/**
 * Moments of the pulses of a log, with the wraps of its counter undone.
 *
 *     a step back of a power of two of the timer step, less a plausible period, is a wrap
 *
 * @param log - Values and their unit; periods at least 0 but for wraps
 * @returns Moments [s] since the first pulse, timer step and wraps found
 * @throws {DomainError} `times-not-increasing` for a step back that no counter explains; `not-finite`
 * @see unsigned subtraction survives a wrap (derived)
 * @example readLog({ values: Float64Array.of(65530, 65533, 0, 3), holds: 'times', unitS: 1 }).timesS.join() // "0,3,6,9"
 * @example readLog({ values: Float64Array.of(10, 13, 12), holds: 'times', unitS: 1 }) // throws times-not-increasing
 */
export function readLog(log: PulseLog): ReadLog {
  const { values, holds, unitS } = log
  const differences =
    holds === 'periods' ? values : values.subarray(1).map((value, index) => value - values[index]!)
  const usual = defaultPeriod(differences)
  const step = timerStep(differences)
  // A counter of times is longer than any time it shows.
  const atLeast = holds === 'times' ? values.reduce((most, value) => Math.max(most, value), 0) : 0
  const timesS = new Float64Array(differences.length + 1)
  let wrap: number | undefined
  let wraps = 0
  let time = 0
  for (let i = 0; i < differences.length; i++) {
    let difference = finite('period', differences[i]!)
    if (difference < 0) {
      wrap ??= wrapFor(difference, step ?? 1, usual, atLeast)
      if (wrap === undefined || difference + wrap < 0) {
        const index = holds === 'periods' ? i : i + 1
        throw new DomainError(
          'times-not-increasing',
          `${holds}: item ${index} steps back by ${-difference}, which no counter of 8 to 48 bits explains; give the pulses in order of time`,
          { pointer: `/${holds}/${index}`, index },
        )
      }
      difference += wrap
      wraps++
    }
    time += difference
    timesS[i + 1] = time * unitS
  }
  const result: Mutable<ReadLog> = { timesS, wraps }
  if (step !== undefined) result.resolutionS = step * unitS
  if (wrap !== undefined) result.wrapS = wrap * unitS
  return result
}
