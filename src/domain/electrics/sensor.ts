import { exact, type Figure } from '../measure/figure.js'
import { product, propagate, quotient, scaled, sum } from '../measure/propagation.js'

/** A magnetic (variable-reluctance) sensor: no supply, amplitude proportional to speed. */
export interface Sensor {
  /** Peak of the open-circuit voltage at the reference speed. [V] */
  readonly amplitudeV: Figure
  /** The reference speed. */
  readonly atMPerS: Figure
  readonly pulsesPerM: Figure
}

/**
 * Corner frequency of a resistor and a capacitor.
 *
 *     f_c = 1/(2π·R·C)
 *
 * @param resistanceOhm - R. [ohm]
 * @param capacitanceF - C. [F]
 * @returns f_c. [Hz]
 * @throws {DomainError} `not-finite` for zero
 * @see definition: frequency at which the gain of a first-order low-pass is 1/√2
 * @example cornerHz(exact(10e3), exact(1e-9)).value // 15915.494309 ± 1e-6
 */
export function cornerHz(resistanceOhm: Figure, capacitanceF: Figure): Figure {
  return scaled(quotient(exact(1), product(resistanceOhm, capacitanceF)), 1 / (2 * Math.PI))
}

/**
 * Gain of a first-order low-pass.
 *
 *     |H| = 1/√(1 + (f/f_c)²)
 *
 * @param frequencyHz - f. [Hz]
 * @param cornerFrequencyHz - f_c. [Hz]
 * @returns |H|, 0 to 1
 * @throws {DomainError} `not-finite` for a corner of zero
 * @see definition of the first-order low-pass
 * @example passedShare(exact(1000), exact(1000)).value // 0.70710678 ± 1e-8
 */
export function passedShare(frequencyHz: Figure, cornerFrequencyHz: Figure): Figure {
  const ratio = quotient(frequencyHz, cornerFrequencyHz)
  const value = 1 / Math.sqrt(1 + ratio.value ** 2)
  return propagate(value, [[ratio, -ratio.value * value ** 3]])
}

/**
 * Amplitude of a sensor at a speed, after its input filter.
 *
 *     A(v) = A₀·(v/v₀) / √(1 + (K·v/f_c)²)
 *
 * The open-circuit amplitude is proportional to speed as long as the magnetic path does not change.
 *
 * @param sensor - A₀ at v₀, pulses per distance K
 * @param speedMPerS - v. [m/s]
 * @param cornerFrequencyHz - f_c of the filter, or undefined for none. [Hz]
 * @returns A. [V]
 * @throws {DomainError} `not-finite`
 * @see Faraday's law (amplitude proportional to the rate of change); first-order low-pass
 * @example sensorAmplitudeV({ amplitudeV: exact(2), atMPerS: exact(10), pulsesPerM: exact(4) }, exact(5), undefined).value // 1 ± 1e-12
 */
export function sensorAmplitudeV(
  sensor: Sensor,
  speedMPerS: Figure,
  cornerFrequencyHz: Figure | undefined,
): Figure {
  const openV = product(sensor.amplitudeV, quotient(speedMPerS, sensor.atMPerS))
  if (cornerFrequencyHz === undefined) return openV
  return product(openV, passedShare(product(sensor.pulsesPerM, speedMPerS), cornerFrequencyHz))
}

/**
 * Lowest speed at which a sensor's amplitude reaches a level.
 *
 *     v = v₀·V/A₀;  after a filter v = V / √((A₀/v₀)² − (V·K/f_c)²)
 *
 * @param sensor - A₀ at v₀, pulses per distance K
 * @param neededV - V, minimum peak for the comparator. [V]
 * @param cornerFrequencyHz - f_c of the filter, or undefined for none. [Hz]
 * @returns v [m/s], or undefined if no speed is enough: the filter limits the amplitude to less than V
 * @throws {DomainError} `not-finite`
 * @see lowest speed = reference speed x threshold / reference amplitude (service data); the filter derived
 * @example lowestTriggeringMPerS({ amplitudeV: exact(2), atMPerS: exact(10), pulsesPerM: exact(4) }, exact(0.1), undefined).value // 0.5 ± 1e-12
 */
export function lowestTriggeringMPerS(
  sensor: Sensor,
  neededV: Figure,
  cornerFrequencyHz: Figure | undefined,
): Figure | undefined {
  const perSpeed = quotient(sensor.amplitudeV, sensor.atMPerS)
  if (cornerFrequencyHz === undefined) return quotient(neededV, perSpeed)
  const lost = quotient(product(neededV, sensor.pulsesPerM), cornerFrequencyHz)
  const left = sum(product(perSpeed, perSpeed), scaled(product(lost, lost), -1))
  if (left.value <= 0) return undefined
  const root = propagate(Math.sqrt(left.value), [[left, 0.5 / Math.sqrt(left.value)]])
  return quotient(neededV, root)
}
