import { exact, type Figure } from '../measure/figure.js'
import { product, quotient, scaled, sum } from '../measure/propagation.js'

/** Three resistors at the non-inverting input of a comparator: to the supply, to ground, from the output. */
export interface FeedbackNetwork {
  readonly toSupplyOhm: Figure
  readonly toGroundOhm: Figure
  readonly fromOutputOhm: Figure
}

export interface Thresholds {
  /** Level at which the output switches when the signal rises. [V] */
  readonly upperV: Figure
  /** Level at which it switches when the signal falls. [V] */
  readonly lowerV: Figure
  readonly hysteresisV: Figure
  readonly midpointV: Figure
}

/**
 * Thresholds of an inverting comparator with positive feedback.
 *
 *     V = (V_cc/R₁ + V_out/R₃) / (1/R₁ + 1/R₂ + 1/R₃);  upper with V_out high, lower with V_out low
 *     rail to rail: V_H = V_cc·R₂/(R₂ + R₁‖R₃),  V_L = V_cc·(R₂‖R₃)/(R₁ + R₂‖R₃)
 *
 * Neglected: input bias current and offset of the comparator, a few millivolts.
 *
 * @param supplyV - V_cc. [V]
 * @param network - R₁ to the supply, R₂ to ground, R₃ from the output. [ohm]
 * @param outputHighV - High output level; the supply for a push-pull output. [V]
 * @param outputLowV - Low output level. [V]
 * @returns Both thresholds, their difference and their middle. [V]
 * @throws {DomainError} `not-finite` for a resistor of zero
 * @see derived: node equation
 * @example comparatorThresholds(exact(5), { toSupplyOhm: exact(10e3), toGroundOhm: exact(10e3), fromOutputOhm: exact(100e3) }, exact(5), exact(0)).upperV.value // 2.619048 ± 1e-6
 * @example comparatorThresholds(exact(5), { toSupplyOhm: exact(10e3), toGroundOhm: exact(10e3), fromOutputOhm: exact(100e3) }, exact(5), exact(0)).lowerV.value // 2.380952 ± 1e-6
 */
export function comparatorThresholds(
  supplyV: Figure,
  network: FeedbackNetwork,
  outputHighV: Figure,
  outputLowV: Figure,
): Thresholds {
  const one = exact(1)
  const g1 = quotient(one, network.toSupplyOhm)
  const g2 = quotient(one, network.toGroundOhm)
  const g3 = quotient(one, network.fromOutputOhm)
  const total = sum(g1, g2, g3)
  const level = (outputV: Figure) => quotient(sum(product(supplyV, g1), product(outputV, g3)), total)
  const upperV = level(outputHighV)
  const lowerV = level(outputLowV)
  return {
    upperV,
    lowerV,
    hysteresisV: sum(upperV, scaled(lowerV, -1)),
    midpointV: scaled(sum(upperV, lowerV), 0.5),
  }
}

/**
 * Feedback resistor for a given hysteresis, with equal resistors to supply and ground.
 *
 *     R₃ = R·(V_swing/H − 1)/2
 *
 * @param dividerOhm - R, each of the two. [ohm]
 * @param swingV - Difference of the output levels. [V]
 * @param hysteresisV - H, less than the swing. [V]
 * @returns R₃. [ohm]
 * @see derived: node equation solved for R₃
 * @example feedbackForHysteresisOhm(10e3, 5, 0.238095238095) // 100000 ± 1e-3
 */
export function feedbackForHysteresisOhm(dividerOhm: number, swingV: number, hysteresisV: number): number {
  return (dividerOhm * (swingV / hysteresisV - 1)) / 2
}
