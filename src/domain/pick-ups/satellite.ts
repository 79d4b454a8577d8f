import { within } from '../errors.js'

/**
 * Speed that a satellite receiver at standstill does not exceed 95 % of the time.
 *
 *     v = σ·√(−2·ln 0.05),  σ = U/2 of one axis
 *
 * Two horizontal axes with independent normal errors give a Rayleigh distribution. Below this speed a reading is not
 * distinguishable from standstill.
 *
 * @param axisPlusMinusMPerS - U, 95 % uncertainty of one axis. [m/s]
 * @returns v. [m/s]
 * @see derived: 95 % point of the Rayleigh distribution
 * @example standstillSpeedMPerS(0.2) // 0.244775 ± 1e-6
 */
export function standstillSpeedMPerS(axisPlusMinusMPerS: number): number {
  return (axisPlusMinusMPerS / 2) * Math.sqrt(-2 * Math.log(0.05))
}

/**
 * Relative difference between road speed and horizontal speed on a slope.
 *
 *     1 − cos(arctan s) = 1 − 1/√(1 + s²)
 *
 * @param slopePercent - s, rise over run. [0 .. 100 %]
 * @returns Share, 0 to 0.3
 * @throws {DomainError} `out-of-range`
 * @see derived: projection on the horizontal
 * @example slopeShare(6) // 0.001795 ± 1e-6
 */
export function slopeShare(slopePercent: number): number {
  return 1 - 1 / Math.hypot(1, within('slopePercent', slopePercent, 0, 100) / 100)
}
