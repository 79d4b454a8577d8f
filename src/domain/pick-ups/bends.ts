import { exact, type Figure } from '../measure/figure.js'
import { quotient, scaled } from '../measure/propagation.js'

/**
 * Deviation of the speed of one wheel from the mean of its axle in a bend.
 *
 *     Δ = 100 · t/(2R)   [%], + for the outer wheel, − for the inner one
 *
 * Both wheels of one axle, no slip, R to the middle of the axle. A propeller shaft turns with the mean of the two.
 *
 * @param trackM - t, track width. [m]
 * @param radiusM - R, of the middle of the axle. [m]
 * @returns Δ. [%]
 * @throws {DomainError} `not-finite` for a radius of zero
 * @see derived: arc lengths R ± t/2 on one angle
 * @example outerWheelPercent(exact(1.4), 10).value // 7 ± 1e-12
 */
export function outerWheelPercent(trackM: Figure, radiusM: number): Figure {
  return scaled(quotient(trackM, exact(radiusM)), 50)
}
