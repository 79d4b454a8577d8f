import { exact, type Figure } from '../measure/figure.js'
import { quotient, scaled } from '../measure/propagation.js'

/**
 * Whole periods that are averaged for one reading.
 *
 *     M = max(1, ⌊f·T_u⌋)
 *
 * @param frequencyHz - f. [Hz]
 * @param updateS - T_u, time between two updates. [s]
 * @returns M
 * @see derived: period measurement between display updates
 * @example periodsAveraged(100, 0.25) // 25 ± 0
 * @example periodsAveraged(1, 0.25) // 1 ± 0
 */
export function periodsAveraged(frequencyHz: number, updateS: number): number {
  return Math.max(1, Math.floor(frequencyHz * updateS))
}

/**
 * Mean delay of a reading behind the true speed, at steady acceleration.
 *
 *     T = M/(2f) + 1/(2f) + T_u/2
 *
 * M is the number of periods averaged.
 *
 * The averaged periods, the age of the newest pulse, and the age of the display: each is uniform, so its mean is half of its
 * length.
 *
 * @param frequencyHz - f. [Hz]
 * @param updateS - T_u. [s]
 * @returns T. [s]
 * @see derived
 * @example readingDelayS(100, 0.25) // 0.255 ± 1e-12
 */
export function readingDelayS(frequencyHz: number, updateS: number): number {
  return (periodsAveraged(frequencyHz, updateS) + 1) / (2 * frequencyHz) + updateS / 2
}

/**
 * Standard uncertainty of a speed due to misplaced teeth.
 *
 *     u(v)/v = √2·u(edge)/M  for M periods; zero over whole turns
 *
 * The first and the last edge each have the uncertainty u(edge), a share of the pitch; the edges between cancel.
 *
 * @param speedMPerS - v. [m/s]
 * @param edgeShare - u(edge) over the pitch
 * @param periods - M. [>= 1]
 * @param pulsesPerTurn - Pulses of one turn of the ring
 * @returns u(v). [m/s]
 * @see derived: tooth errors sum to zero over a turn
 * @example edgeUncertaintyMPerS(10, 0.01, 8, 8) // 0 ± 0
 * @example edgeUncertaintyMPerS(10, 0.01, 1, 8) // 0.141421356 ± 1e-9
 */
export function edgeUncertaintyMPerS(
  speedMPerS: number,
  edgeShare: number,
  periods: number,
  pulsesPerTurn: number,
): number {
  return periods % pulsesPerTurn === 0 ? 0 : (speedMPerS * Math.SQRT2 * edgeShare) / periods
}

/**
 * Standard uncertainty of a speed due to an eccentric ring.
 *
 *     u(v)/v = (ε/√2)·|sin(θ/2)/(θ/2)|,  θ = 2π·M/N
 *
 * The error is a sine of amplitude ε once per turn; a mean over the angle θ reduces it.
 *
 * @param speedMPerS - v. [m/s]
 * @param eccentricity - ε = eccentricity over radius
 * @param periods - M. [>= 1]
 * @param pulsesPerTurn - N
 * @returns u(v). [m/s]
 * @see derived: mean of a sine over an angle
 * @example edgeUncertaintyMPerS(10, 0.01, 8, 8) + eccentricUncertaintyMPerS(10, 0.01, 8, 8) // 0 ± 1e-15
 * @example eccentricUncertaintyMPerS(10, 0.01, 1, 1000) // 0.0707106 ± 1e-6
 */
export function eccentricUncertaintyMPerS(
  speedMPerS: number,
  eccentricity: number,
  periods: number,
  pulsesPerTurn: number,
): number {
  const half = (Math.PI * periods) / pulsesPerTurn
  return Math.abs((speedMPerS * eccentricity * Math.sin(half)) / half) / Math.SQRT2
}

/**
 * Maximum distance from standstill to the first reading: up to one pulse to the first edge, then one period.
 *
 *     s = 2/K
 *
 * @param pulsesPerM - K. [1/m]
 * @returns s. [m]
 * @see derived
 * @example firstReadingM(exact(4)).value // 0.5 ± 1e-12
 */
export function firstReadingM(pulsesPerM: Figure): Figure {
  return scaled(quotient(exact(1), pulsesPerM), 2)
}
