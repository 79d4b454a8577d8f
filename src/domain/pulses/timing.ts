import { DomainError, within } from '../errors.js'
import { digits } from '../measure/digits.js'
import { exact, type Figure } from '../measure/figure.js'
import { product, quotient } from '../measure/propagation.js'

/**
 * Frequency of the pulses at a speed.
 *
 *     f = K·v
 *
 * @param pulsesPerM - K. [1/m, > 0]
 * @param speedMPerS - v. [m/s, >= 0]
 * @returns f. [Hz]
 * @throws {DomainError} `not-finite`, `out-of-range`
 * @see definition; f = K v / 3600 with K per km and v in km/h
 * @example pulseFrequencyHz(4, 100 / 3.6) // 111.1111 ± 1e-4
 */
export function pulseFrequencyHz(pulsesPerM: number, speedMPerS: number): number {
  return within('pulsesPerM', pulsesPerM, 1e-9, 1e9) * within('speedMPerS', speedMPerS, 0, 1e6)
}

/**
 * Speed resolution of counting pulses over a gate time.
 *
 *     Δv = 1 / (K·T_g)
 *
 * @param pulsesPerM - K. [1/m]
 * @param gateS - T_g. [s]
 * @returns Δv, one count. [m/s]
 * @throws {DomainError} `not-finite`, `out-of-range`
 * @see definition; 3600/(K T_g) km/h with K per km
 * @example gateSpeedStepMPerS(4, 0.5) * 3.6 // 1.8 ± 1e-12
 */
export function gateSpeedStepMPerS(pulsesPerM: number, gateS: number): number {
  return 1 / (within('pulsesPerM', pulsesPerM, 1e-9, 1e9) * within('gateS', gateS, 1e-9, 1e9))
}

/**
 * One step of the timer as a share of the measured time, one or several pulse periods.
 *
 *     τ / (M·T) = f·τ / M      f = K·v, τ the clock step, T = 1/f the period, M periods timed as one
 *
 * Above 1 the timer steps less than once in that time: it cannot measure the speed.
 *
 * @param pulsesPerM - K. [1/m]
 * @param speedMPerS - v. [m/s]
 * @param tickS - τ. [s]
 * @param periods - M, whole periods timed as one. [>= 1]
 * @returns Share; one step of the timer changes the speed by this share of it
 * @throws {DomainError} `not-finite`, `out-of-range`
 * @see definition; relative step f/(M f_c)
 * @example timerStepShare(4, 25, 1e-3, 1) // 0.1 ± 1e-12
 */
export function timerStepShare(
  pulsesPerM: number,
  speedMPerS: number,
  tickS: number,
  periods: number,
): number {
  return (
    (pulseFrequencyHz(pulsesPerM, speedMPerS) * within('tickS', tickS, 1e-12, 1e6)) /
    within('periods', periods, 1, 1e9)
  )
}

/**
 * The clock step for timing pulse periods, checked to be no longer than the timed period.
 *
 *     τ ≤ M/f      f = K·v, M periods timed as one
 *
 * @param pulsesPerM - K. [1/m]
 * @param speedMPerS - v, maximum speed to be measured. [m/s]
 * @param tickS - τ. [s]
 * @param periods - M, whole periods timed as one. [>= 1]
 * @returns τ. [s]
 * @throws {DomainError} `top-speed-unresolved` for a longer one, `not-finite`, `out-of-range`
 * @see definition: a clock that steps less than once in a period cannot measure it
 * @example tickWithinPeriodS(4, 25, 1e-2, 1) // 0.01 ± 0
 * @example tickWithinPeriodS(4, 25, 1.1e-2, 1) // throws top-speed-unresolved
 */
export function tickWithinPeriodS(
  pulsesPerM: number,
  speedMPerS: number,
  tickS: number,
  periods: number,
): number {
  const share = timerStepShare(pulsesPerM, speedMPerS, tickS, periods)
  // Tolerance, so that a step of exactly one period does not fail by rounding.
  if (share > 1 + 1e-12) {
    const timedS = tickS / share
    throw new DomainError(
      'top-speed-unresolved',
      `timerTick: expected at most ${digits(timedS, 4)} s, the ${periods === 1 ? 'period of the pulses' : `time of ${periods} pulses`} at ${digits(3.6 * speedMPerS, 4)} km/h, got ${digits(tickS)} s; give a shorter tick, or divide the pulses before they are timed`,
      { pointer: '/timerTick', max: timedS, value: tickS },
    )
  }
  return tickS
}

/**
 * Speed resolution of timing pulse periods with a clock.
 *
 *     Δv/v = f·τ / M      f = K·v, τ the clock step, M periods timed as one
 *
 * @param pulsesPerM - K. [1/m]
 * @param speedMPerS - v. [m/s]
 * @param tickS - τ, at most M/f: see `tickWithinPeriodS`. [s]
 * @param periods - M, whole periods timed as one. [>= 1]
 * @returns Δv, one clock step. [m/s]
 * @throws {DomainError} `not-finite`, `out-of-range`
 * @see definition; relative step f/(M f_c)
 * @example (100 / 3.6) / periodSpeedStepMPerS(4, 100 / 3.6, 1e-6, 1) // 9000 ± 1e-6
 */
export function periodSpeedStepMPerS(
  pulsesPerM: number,
  speedMPerS: number,
  tickS: number,
  periods: number,
): number {
  return (
    (speedMPerS * pulseFrequencyHz(pulsesPerM, speedMPerS) * within('tickS', tickS, 1e-12, 1e6)) /
    within('periods', periods, 1, 1e9)
  )
}

/**
 * Pulse frequency at which counting over a gate and timing one period resolve speed alike: below it time periods.
 *
 *     f_x = √( f_c / T_g )
 *
 * @param tickS - 1/f_c, clock step. [s]
 * @param gateS - T_g. [s]
 * @returns f_x. [Hz]
 * @throws {DomainError} `not-finite`, `out-of-range`
 * @see 1/(f T_g) = f/f_c solved for f
 * @example crossoverHz(1 / 16e6, 0.1) // 12649.1106 ± 1e-4
 */
export function crossoverHz(tickS: number, gateS: number): number {
  return 1 / Math.sqrt(within('tickS', tickS, 1e-12, 1e6) * within('gateS', gateS, 1e-9, 1e9))
}

/**
 * Lowest speed shown with a fixed zero timeout: at lower speeds the next pulse comes after the timeout.
 *
 *     v₀ = 1 / (K·T)
 *
 * @param pulsesPerM - K. [1/m, > 0]
 * @param timeoutS - T. [s, > 0]
 * @returns v₀ with its uncertainty. [m/s]
 * @throws {DomainError} `not-finite`
 * @see definition; 3600/(K T) km/h with K per km
 * @example lowestSpeedMPerS(exact(4), exact(0.45)).value * 3.6 // 2 ± 1e-12
 */
export function lowestSpeedMPerS(pulsesPerM: Figure, timeoutS: Figure): Figure {
  return quotient(exact(1), product(pulsesPerM, timeoutS))
}

/**
 * Time after which a counter wraps to zero. Unsigned subtraction of two readings is correct across one wrap.
 *
 *     T = 2ⁿ·τ
 *
 * @param bits - n, width of the counter. [1 .. 64]
 * @param tickS - τ, step of the counter. [s]
 * @returns T. [s]
 * @throws {DomainError} `not-finite`, `out-of-range`
 * @see definition of a binary counter
 * @example counterWrapS(32, 1e-6) / 60 // 71.58 ± 5e-3
 */
export function counterWrapS(bits: number, tickS: number): number {
  return 2 ** within('bits', bits, 1, 64) * within('tickS', tickS, 1e-12, 1e6)
}
