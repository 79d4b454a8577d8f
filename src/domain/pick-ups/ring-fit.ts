import { normalCdf, normalRamp } from '../measure/distributions.js'
import { exact, type Figure, uncertain } from '../measure/figure.js'
import { propagate } from '../measure/propagation.js'
import { plusMinus, standardUncertainty } from '../measure/uncertainty.js'

/** Offset of the center of a ring from the axis that it turns about. */
export interface Seat {
  readonly eccentricityM: Figure
  /** Half of the largest clearance. */
  readonly maxEccentricityM: Figure
}

/**
 * Eccentricity of a ring that is fixed somewhere within its clearance.
 *
 *     e = √q·c₊/2,  c₊ = max(c, 0);  E(e) = E(c₊)/3,  E(e²) = E(c₊²)/8;  e_max = (c + 2·u)₊/2
 *     E(c₊) = c·Φ(c/u) + u·φ(c/u),  E(c₊²) = c·E(c₊) + u²·Φ(c/u)
 *
 * c is the clearance on the diameter with its standard uncertainty u, e the eccentricity and e_max the largest,
 * q a number uniform from 0 to 1, φ the density of the standard normal distribution, E the expected value.
 *
 * Every place of the center within the circle that the clearance leaves is taken as equally likely. With an interference the ring centers
 * itself. The moments are exact, so they hold where the clearance is as small as its uncertainty.
 *
 * @param clearanceM - Bore minus shaft, on the diameter; below zero: interference. [m]
 * @returns Expected and largest eccentricity [m]
 * @throws {DomainError} `not-finite`
 * @see derived: moments of a uniform distribution over a disk; common practice: any place is equally likely
 * @example seatIn(exact(0.3e-3)).eccentricityM.value // 0.0001 ± 1e-15
 * @example seatIn(exact(0.3e-3)).maxEccentricityM.value // 0.00015 ± 1e-15
 * @example seatIn(exact(-0.02e-3)).eccentricityM.value // 0 ± 0
 */
export function seatIn(clearanceM: Figure): Seat {
  const c = clearanceM.value
  const u = standardUncertainty(clearanceM)
  const openShare = u === 0 ? Number(c > 0) : normalCdf(c / u)
  const mean = normalRamp(c, u)
  const square = c * mean + u * u * openShare
  const slope = openShare / 3
  const placeVariance = square / 8 - (mean / 3) ** 2 - (slope * u) ** 2
  return {
    eccentricityM: propagate(mean / 3, [
      [clearanceM, slope],
      [uncertain(0, 'ring: place within the clearance', Math.sqrt(Math.max(0, placeVariance))), 1],
    ]),
    maxEccentricityM: exact(Math.max(0, c + plusMinus(clearanceM)) / 2),
  }
}
