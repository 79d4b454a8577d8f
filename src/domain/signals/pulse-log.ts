import { DomainError, finite } from '../errors.js'
import { median } from '../measure/readings.js'
import type { Mutable } from '../mutable.js'

/** A recorded log: periods, or clock readings at each pulse, all in the same unit. */
export interface PulseLog {
  readonly values: Float64Array
  readonly content: 'periods' | 'times'
  /** Duration of one unit of the values. */
  readonly unitS: number
}

export type LogUnit = 's' | 'ms' | 'us'

const UNIT_S = { s: 1, ms: 1e-3, us: 1e-6 } as const

/**
 * Duration of one unit of the values of a log.
 *
 *     1 s, 1 ms, 1 µs, or the step of the timer for counts
 *
 * @param unit - Unit of times; left out: s
 * @param tickS - Duration of one count, for timer counts. [s]
 * @param tickField - Name of the field that it stands in
 * @returns Duration. [s]
 * @throws {DomainError} `log-unit-ambiguous` for both
 * @see definitions of the units
 * @example logUnitS('us', undefined) // 0.000001 ± 0
 * @example logUnitS('us', 4e-6) // throws log-unit-ambiguous
 */
export function logUnitS(unit: LogUnit | undefined, tickS: number | undefined, tickField = 'tick'): number {
  if (unit !== undefined && tickS !== undefined) {
    throw new DomainError(
      'log-unit-ambiguous',
      `unit: expected unit or ${tickField}, got both; give ${tickField} for timer counts, unit for times`,
      { pointer: '/unit' },
    )
  }
  return tickS ?? UNIT_S[unit ?? 's']
}

/** A log with counter wraps undone. */
export interface ReadLog {
  /** Time of each pulse since the first, never decreasing. */
  readonly timesS: Float64Array
  /** Step of the values; absent if they show none. */
  readonly resolutionS?: number
  /** Counter length that fits the backward jumps; absent without any. */
  readonly wrapS?: number
  readonly wraps: number
}

/** Number of values examined for the step. */
const LOOKED_AT = 20_000
const MAX_DECIMALS = 12

const greatestCommonDivisor = (a: number, b: number): number => {
  let [x, y] = [a, b]
  while (y !== 0) [x, y] = [y, x % y]
  return x
}

/** Number of decimals d of the values, if each is a whole multiple of 10^-d. */
function decimalsOf(values: Float64Array): number | undefined {
  for (let decimals = 0; decimals <= MAX_DECIMALS; decimals++) {
    const scale = 10 ** decimals
    const whole = values.every((value) => {
      const scaled = Math.abs(value) * scale
      // Within the precision of a double; a value more than a millionth of a step off does not have d decimals.
      return scaled < 2 ** 50 && Math.abs(scaled - Math.round(scaled)) <= Math.max(1e-6, scaled * 4e-16)
    })
    if (whole) return decimals
  }
  return undefined
}

/**
 * Step of the timer that recorded a log, from the values.
 *
 *     step = greatest common divisor of the values, as whole numbers of their last decimal
 *
 * Periods that are all multiples of 4 µs come from a 4 µs timer. Values with more than twelve decimals, or all equal, show no
 * step.
 *
 * @param values - Periods, or differences of times, any unit; only the first 20 000 are examined
 * @returns Step in the unit of the values; undefined if they show none
 * @see common divisor (derived)
 * @example timerStep(Float64Array.of(2500, 2504, 2496)) // 4 ± 0
 * @example timerStep(Float64Array.of(2.5, 2.125, 2.75)) // 0.125 ± 0
 */
export function timerStep(values: Float64Array): number | undefined {
  const some = values.subarray(0, LOOKED_AT)
  // Equal values show no step: 24, 25, 25 counts do, 25, 25, 25 do not.
  const decimals = new Set(some).size < 2 ? undefined : decimalsOf(some)
  if (decimals === undefined) return undefined
  const scale = 10 ** decimals
  let divisor = 0
  for (const value of some) divisor = greatestCommonDivisor(divisor, Math.round(Math.abs(value) * scale))
  return divisor === 0 ? undefined : divisor / scale
}

/** Plausible range for the period in which a counter wrapped, as multiples of the typical period. */
const PLAUSIBLE = { min: 0.1, max: 20 }

/** Counter length, a power of two times the step, that turns a backward jump into a plausible period. */
function wrapFor(back: number, step: number, typical: number, atLeast: number): number | undefined {
  for (let bits = 8; bits <= 48; bits++) {
    const modulus = 2 ** bits * step
    if (modulus <= atLeast) continue
    const period = back + modulus
    if (period > PLAUSIBLE.max * typical) return undefined
    if (period >= PLAUSIBLE.min * typical) return modulus
  }
  return undefined
}

function typicalPeriod(differences: Float64Array): number {
  const forward = Array.from(differences.subarray(0, LOOKED_AT)).filter((value) => value > 0)
  return forward.length === 0 ? 0 : median(forward)
}

/**
 * Times of the pulses of a log, with the wraps of its counter undone.
 *
 *     a backward step is a wrap if adding a power of two times the timer step gives a plausible period
 *
 * @param log - Values and their unit; periods at least 0 except at wraps
 * @returns Times [s] since the first pulse, timer step and wraps found
 * @throws {DomainError} `times-not-increasing` for a backward step that no counter explains; `not-finite`
 * @see unsigned subtraction survives a wrap (derived)
 * @example readLog({ values: Float64Array.of(65530, 65533, 0, 3), content: 'times', unitS: 1 }).timesS.join() // "0,3,6,9"
 * @example readLog({ values: Float64Array.of(10, 13, 12), content: 'times', unitS: 1 }) // throws times-not-increasing
 */
export function readLog(log: PulseLog): ReadLog {
  const { values, content, unitS } = log
  const differences =
    content === 'periods' ? values : values.subarray(1).map((value, index) => value - values[index]!)
  const typical = typicalPeriod(differences)
  const step = timerStep(differences)
  // A counter is longer than every time it has shown.
  const atLeast = content === 'times' ? values.reduce((max, value) => Math.max(max, value), 0) : 0
  const timesS = new Float64Array(differences.length + 1)
  let wrap: number | undefined
  let wraps = 0
  let time = 0
  for (let i = 0; i < differences.length; i++) {
    let difference = finite('period', differences[i]!)
    if (difference < 0) {
      wrap ??= wrapFor(difference, step ?? 1, typical, atLeast)
      if (wrap === undefined || difference + wrap < 0) {
        const index = content === 'periods' ? i : i + 1
        throw new DomainError(
          'times-not-increasing',
          `${content}: item ${index} steps back by ${-difference}, which no wrap of an 8- to 48-bit counter explains; give the pulses in order of time`,
          { pointer: `/${content}/${index}`, index },
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
