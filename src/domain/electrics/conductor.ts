import { DomainError, within } from '../errors.js'
import { digits } from '../measure/digits.js'
import { exact, type Figure } from '../measure/figure.js'
import { product, propagate, quotient, scaled, sum } from '../measure/propagation.js'

/** 0 degrees Celsius [K]: exact. */
export const ZERO_CELSIUS_K = 273.15
/** Temperature of the copper standard [K]. */
const COPPER_REFERENCE_K = ZERO_CELSIUS_K + 20
/** Resistivity of annealed copper at 20 Cel [ohm m]. */
export const COPPER_OHM_M = 0.017241e-6
/** Temperature coefficient of its resistance at 20 Cel [1/K]. */
const COPPER_PER_K = 0.00393
/** Maximum conductor temperature for this coefficient; any automotive insulation fails far below [K]. */
export const HOTTEST_K = ZERO_CELSIUS_K + 300

/**
 * Diameter of a solid wire of an American gauge.
 *
 *     d = 0.127 mm · 92^((36 − n)/39)
 *
 * @param awg - n; 0 is 1/0, -1 is 2/0, -3 is 4/0. [-3 .. 40]
 * @returns d. [m]
 * @throws {DomainError} `out-of-range`
 * @see ASTM B258
 * @example awgDiameterM(18) // 0.001023687 ± 1e-9
 * @example awgDiameterM(36) // 0.000127 ± 1e-15
 */
export function awgDiameterM(awg: number): number {
  return 0.127e-3 * 92 ** ((36 - within('awg', awg, -3, 40)) / 39)
}

/** 1 + α·(T − 20 °C). */
export const warming = (temperatureK: Figure) =>
  sum(exact(1 - COPPER_PER_K * COPPER_REFERENCE_K), scaled(temperatureK, COPPER_PER_K))

export const squared = (figure: Figure) => product(figure, figure)
export const squareRoot = (figure: Figure) =>
  propagate(Math.sqrt(figure.value), [[figure, 0.5 / Math.sqrt(figure.value)]])

/**
 * Steady temperature of a conductor with its own heat in still air.
 *
 *     I²·R′₂₀·(1 + α(T − T₂₀)) = G′·(T − Tₐ)  ⇒  T = (G′·Tₐ + q·(1 − α·T₂₀))/(G′ − α·q),  q = I²·R′₂₀
 *
 * In closed form, because resistance and heat flow are both linear in T. Above I = √(G′/(α·R′₂₀)) heat generation grows
 * faster than heat transfer.
 *
 * @param currentA - I. [A]
 * @param ohmPerMAt20 - R′₂₀. [ohm/m]
 * @param conductanceWPerMK - G′ = h·π·(d + 2·insulation), heat per length and kelvin. [W/(m K)]
 * @param ambientK - Tₐ. [K]
 * @returns T. [K]
 * @throws {DomainError} `wire-overloaded` if there is none below 300 °C
 * @see derived: power balance per length; copper standard for α
 * @example conductorTemperatureK(exact(0), exact(0.02), exact(0.05), exact(313.15)).value // 313.15 ± 1e-9
 * @example conductorTemperatureK(exact(100), exact(0.02), exact(0.05), exact(313.15)) // throws wire-overloaded
 */
export function conductorTemperatureK(
  currentA: Figure,
  ohmPerMAt20: Figure,
  conductanceWPerMK: Figure,
  ambientK: Figure,
): Figure {
  const temperatureK = steadyK(currentA, ohmPerMAt20, conductanceWPerMK, ambientK)
  if (temperatureK === undefined) {
    throw new DomainError(
      'wire-overloaded',
      `current: ${digits(currentA.value)} A heat this wire above 300 °C; expected at most ${digits(
        largestCurrentA(ohmPerMAt20, conductanceWPerMK, ambientK, exact(HOTTEST_K)).value,
        3,
      )} A, or a thicker wire`,
      { pointer: '/current', value: currentA.value },
    )
  }
  return temperatureK
}

/**
 * Steady temperature of a conductor with its own heat in still air, where there is one.
 *
 *     T = (G′·Tₐ + q·(1 − α·T₂₀))/(G′ − α·q),  q = I²·R′₂₀
 *
 * α is the temperature coefficient of copper at T₂₀ = 20 °C. `conductorTemperatureK` refuses a wire without such a temperature.
 *
 * @param currentA - I. [A]
 * @param ohmPerMAt20 - R′₂₀. [ohm/m]
 * @param conductanceWPerMK - G′. [W/(m K)]
 * @param ambientK - Tₐ. [K]
 * @returns T [K], or undefined if there is none below 300 °C
 * @see derived: power balance per length; copper standard for α
 * @example steadyK(exact(0), exact(0.02), exact(0.05), exact(313.15)).value // 313.15 ± 1e-9
 */
export function steadyK(
  currentA: Figure,
  ohmPerMAt20: Figure,
  conductanceWPerMK: Figure,
  ambientK: Figure,
): Figure | undefined {
  const heatWPerM = product(squared(currentA), ohmPerMAt20)
  const leaves = sum(conductanceWPerMK, scaled(heatWPerM, -COPPER_PER_K))
  const enters = sum(
    product(conductanceWPerMK, ambientK),
    scaled(heatWPerM, 1 - COPPER_PER_K * COPPER_REFERENCE_K),
  )
  return leaves.value <= 0 || enters.value / leaves.value > HOTTEST_K ? undefined : quotient(enters, leaves)
}

/**
 * Current that heats a conductor to a given temperature.
 *
 *     I = √( G′·(T − Tₐ) / (R′₂₀·(1 + α(T − T₂₀))) )
 *
 * α is the temperature coefficient of copper at T₂₀ = 20 °C.
 *
 * @param ohmPerMAt20 - R′₂₀. [ohm/m]
 * @param conductanceWPerMK - G′. [W/(m K)]
 * @param ambientK - Tₐ, below T. [K]
 * @param limitK - T. [K]
 * @returns I. [A]
 * @throws {DomainError} `limits-crossed` when the surroundings are as hot as the limit
 * @see derived: power balance per length, the inverse of `conductorTemperatureK`
 * @example conductorTemperatureK(largestCurrentA(exact(0.02), exact(0.05), exact(313.15), exact(358.15)), exact(0.02), exact(0.05), exact(313.15)).value // 358.15 ± 1e-9
 */
export function largestCurrentA(
  ohmPerMAt20: Figure,
  conductanceWPerMK: Figure,
  ambientK: Figure,
  limitK: Figure,
): Figure {
  if (limitK.value <= ambientK.value) {
    throw new DomainError(
      'limits-crossed',
      `ambient: expected less than the ${(limitK.value - ZERO_CELSIUS_K).toFixed(1)} °C limit of the insulation, got ${(ambientK.value - ZERO_CELSIUS_K).toFixed(1)} °C`,
      { pointer: '/ambient', max: limitK.value, value: ambientK.value },
    )
  }
  const gives = product(conductanceWPerMK, sum(limitK, scaled(ambientK, -1)))
  return squareRoot(quotient(gives, product(ohmPerMAt20, warming(limitK))))
}
