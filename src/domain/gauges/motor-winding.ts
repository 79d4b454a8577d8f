import { HOTTEST_K, steadyK, warming, ZERO_CELSIUS_K } from '../electrics/conductor.js'
import { digits } from '../measure/digits.js'
import { exact, type Figure } from '../measure/figure.js'
import { product, quotient, scaled, sum } from '../measure/propagation.js'
import { type MotorCheck, motorCheck } from './driven-head.js'

/** The winding of a motor. */
export interface Winding {
  /** At 20 Cel. */
  readonly resistanceOhm: Figure
  /** From the winding to the surroundings; left out: the winding is taken as warm as they are, and not checked. */
  readonly thermalResistanceKPerW?: Figure
  /** Left out: class 105 of insulation. */
  readonly maxTemperatureK?: number
}

export interface WindingAtWork {
  readonly resistanceOhm: Figure
  /** Absent without a thermal resistance, and where there is no steady temperature. */
  readonly temperatureK?: Figure
}

/** Maximum of class 105 of insulation [K]. */
export const MAX_WINDING_K = ZERO_CELSIUS_K + 105

/**
 * Resistance and temperature of a winding at work.
 *
 *     R_w = R·(1 + α·(T − 20 °C)),  T = Tₐ + R_th·I²·R_w
 *
 * R is the resistance at 20 °C, α the temperature coefficient of copper, Tₐ the temperature of the surroundings, R_th the thermal
 * resistance, I the current. Without a thermal resistance, and where there is no steady temperature below 300 °C, R_w is that at Tₐ.
 *
 * @param winding - R [ohm], R_th [K/W]
 * @param currentA - I. [A]
 * @param ambientK - Tₐ. [K]
 * @returns R_w [ohm] and T [K]
 * @see derived: power balance; copper standard for α
 * @example windingAt({ resistanceOhm: exact(10), thermalResistanceKPerW: exact(20) }, exact(0.3), exact(293.15)).temperatureK.value // 312.52025 ± 1e-5
 */
export function windingAt(winding: Winding, currentA: Figure, ambientK: Figure): WindingAtWork {
  const { resistanceOhm, thermalResistanceKPerW } = winding
  const temperatureK =
    thermalResistanceKPerW === undefined
      ? undefined
      : steadyK(currentA, resistanceOhm, quotient(exact(1), thermalResistanceKPerW), ambientK)
  const warm = { resistanceOhm: product(resistanceOhm, warming(temperatureK ?? ambientK)) }
  return temperatureK === undefined ? warm : { ...warm, temperatureK }
}

/**
 * Judges the temperature of a winding, where its thermal resistance is given.
 *
 *     T ≤ T_max, 105 °C for insulation of class 105
 *
 * @param winding - The winding, with its limit [K]
 * @param field - JSON Pointer of the field to change
 * @param temperatureK - T; undefined where there is no steady temperature. [K]
 * @returns One check, or none without a thermal resistance
 * @throws {DomainError} `not-finite`
 * @see IEC 60085 for the class of insulation
 * @example windingChecks({ resistanceOhm: exact(10), thermalResistanceKPerW: exact(20) }, '', exact(400))[0].result // "does-not-conform"
 */
export function windingChecks(
  winding: Winding,
  field: string,
  temperatureK: Figure | undefined,
): MotorCheck[] {
  const { thermalResistanceKPerW, maxTemperatureK: maxK = MAX_WINDING_K } = winding
  if (thermalResistanceKPerW === undefined) return []
  return [
    motorCheck(
      'winding-temperature',
      field,
      temperatureK === undefined ? undefined : sum(exact(maxK), scaled(temperatureK, -1)),
      maxK,
      `The winding stays at or below ${digits((temperatureK === undefined ? HOTTEST_K : maxK) - ZERO_CELSIUS_K)} °C.`,
    ),
  ]
}
