import type { Figure } from '../measure/figure.js'
import { propagate, quotient } from '../measure/propagation.js'

/**
 * Angle at which a character is seen.
 *
 *     α = 2·arctan(h/(2d))
 *
 * @param heightM - h, height of the character. [m]
 * @param distanceM - d, from the eye to the character. [m]
 * @returns α. [rad]
 * @see derived: definition of the visual angle
 * @example fromSi('visualAngle', 'arcmin', visualAngleRad(exact(0.00407), exact(0.7)).value) // 19.988 ± 1e-3
 */
export function visualAngleRad(heightM: Figure, distanceM: Figure): Figure {
  const ratio = quotient(heightM, distanceM)
  const half = ratio.value / 2
  return propagate(2 * Math.atan(half), [[ratio, 1 / (1 + half * half)]])
}

/**
 * Height of a character that is seen at a given angle.
 *
 *     h = 2d·tan(α/2)
 *
 * @param angleRad - α. [rad]
 * @param distanceM - d, from the eye to the character. [m]
 * @returns h. [m]
 * @see derived: the inverse of `visualAngleRad`
 * @example heightAtAngleM(toSi('visualAngle', 'arcmin', 20), exact(0.7)).value // 0.00407245 ± 1e-8
 */
export function heightAtAngleM(angleRad: number, distanceM: Figure): Figure {
  const perDistance = 2 * Math.tan(angleRad / 2)
  return propagate(perDistance * distanceM.value, [[distanceM, perDistance]])
}
