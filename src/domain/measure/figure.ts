import { finite, within } from '../errors.js'
import type { Rectangle } from './spread.js'

/** The signed standard uncertainty cᵢ·u(xᵢ) that one input contributes to a figure. */
export interface Contribution {
  readonly input: string
  readonly part: number
  /** For an input uniform over a tolerance: effect of the ends of the tolerance on the figure. Absent: the input is normal about its estimate. */
  readonly rectangle?: Rectangle | undefined
}

/**
 * A figure: a best estimate with the contribution of each independent input to its uncertainty.
 *
 * `contributions` names each input once. Figures that share an input are correlated: its contributions add with their signs before squaring, as in
 * the GUM's treatment of correlated estimates, so x/x has no uncertainty whatever the uncertainty of x.
 */
export interface Figure {
  readonly value: number
  readonly contributions: readonly Contribution[]
}

/**
 * A quantity as the caller reads it. Where it states no uncertainty, a computation that knows the usual one assumes that; the caller may state
 * that there is none.
 */
export interface Reading extends Figure {
  readonly statedExact?: true
}

/** Coverage factor for a level of about 95 % (JCGM 100:2008, 6.3.3). */
export const COVERAGE_FACTOR = 2

export const NO_CONTRIBUTIONS: readonly Contribution[] = []

/**
 * A figure without uncertainty: a definition, a count, a tooth number.
 *
 *     y = x, u(y) = 0
 *
 * @param value - Finite number, any unit
 * @returns The figure
 * @throws {DomainError} `not-finite`
 * @see JCGM 100:2008, 4.3.1 (a definition has no uncertainty)
 * @example exact(7).value // 7 ± 0
 */
export function exact(value: number): Figure {
  return { value: finite('value', value), contributions: NO_CONTRIBUTIONS }
}

/**
 * A figure based on one input with a given standard uncertainty.
 *
 *     y = x, contribution of the input = u(x)
 *
 * @param value - Best estimate, any unit
 * @param input - Name of the input in the budget
 * @param standardUncertainty - u(x), k = 1, same unit. [>= 0]
 * @returns The figure
 * @throws {DomainError} `not-finite`, `out-of-range` below zero
 * @see JCGM 100:2008, 3.3.5
 * @example plusMinus(uncertain(100, 'tape', 0.5)) // 1 ± 0
 */
export function uncertain(value: number, input: string, standardUncertainty: number): Figure {
  finite(input, value)
  within(`u(${input})`, standardUncertainty, 0, Number.MAX_VALUE)
  return standardUncertainty === 0
    ? exact(value)
    : { value, contributions: [{ input, part: standardUncertainty, rectangle: undefined }] }
}

/**
 * A reading whose caller states that it has no uncertainty.
 *
 *     y = x, u(y) = 0
 *
 * @param value - Finite number, any unit
 * @returns The reading
 * @throws {DomainError} `not-finite`
 * @see JCGM 100:2008, 4.3.1 (a definition has no uncertainty)
 * @example statesUncertainty(statedExact(7)) // true
 */
export function statedExact(value: number): Reading {
  return { value: finite('value', value), contributions: NO_CONTRIBUTIONS, statedExact: true }
}

/**
 * Whether a reading states its uncertainty, be it zero.
 *
 *     u(x) is stated, or x is stated to be exact
 *
 * @param reading - Reading of the caller
 * @returns false where the uncertainty is left to the computation
 * @see JCGM 100:2008, 4.3.1
 * @example statesUncertainty(exact(7)) // false
 */
export function statesUncertainty(reading: Reading): boolean {
  return reading.statedExact === true || reading.contributions.length > 0
}

/**
 * A figure based on one input that is uniformly distributed over a tolerance; the stated value need not be its middle.
 *
 *     y = x, uniform from x − a₋ to x + a₊;  u(x) by `toleranceUncertainty`
 *
 * @param value - Stated value, any unit
 * @param input - Name of the input in the budget
 * @param below - a₋, same unit. [>= 0]
 * @param above - a₊, same unit. [>= 0]
 * @returns The figure
 * @throws {DomainError} `not-finite`, `out-of-range` below zero
 * @see JCGM 100:2008, 4.3.7, 4.3.8
 * @example plusMinus(toleranced(100, 'tolerance', 2.5, 1.5)) // 2.318 ± 1e-4
 * @example standardUncertainty(toleranced(100, 'tolerance', 2.5, 1.5)) // 1.25831 ± 1e-5
 */
export function toleranced(value: number, input: string, below: number, above: number): Figure {
  finite(input, value)
  const part = toleranceUncertainty(below, above)
  if (part === 0) return exact(value)
  const rectangle = { atLow: -below, atHigh: above, shareBelow: below / (below + above) }
  return { value, contributions: [{ input, part, rectangle }] }
}

/**
 * Standard uncertainty from a tolerance that is asymmetric about the stated value.
 *
 *     u² = (a₋ + a₊)²/12 + ((a₊ − a₋)/2)²
 *
 * The first term is the variance of the uniform distribution over the whole tolerance; the second is the square of the distance from its
 * middle to the stated value, which remains the estimate.
 *
 * @param below - a₋, how far the quantity may lie below the stated value. [>= 0]
 * @param above - a₊, how far above. [>= 0]
 * @returns u, k = 1, unit of the arguments
 * @throws {DomainError} `not-finite`, `out-of-range` below zero
 * @see JCGM 100:2008, 4.3.7, 4.3.8, F.2.4.5
 * @example toleranceUncertainty(1, 1) // 0.577350269 ± 1e-9
 * @example toleranceUncertainty(0.025, 0.015) // 0.0125831 ± 1e-7
 */
export function toleranceUncertainty(below: number, above: number): number {
  within('below', below, 0, Number.MAX_VALUE)
  within('above', above, 0, Number.MAX_VALUE)
  const middle = (above - below) / 2
  return Math.sqrt((below + above) ** 2 / 12 + middle * middle)
}

/**
 * A figure with renamed inputs: two tires of one request are measured independently, so their inputs must have
 * different names.
 *
 *     contribution of name(i) = contribution of i
 *
 * @param figure - Figure
 * @param name - New name of an input, from its old one; must keep different inputs different
 * @returns The figure with renamed inputs
 * @see JCGM 100:2008, 5.2 (correlated and independent input quantities)
 * @example budget(renamed(uncertain(1, 'tire: wear', 1), (input) => `fitted ${input}`))[0].input // "fitted tire: wear"
 */
export function renamed(figure: Figure, name: (input: string) => string): Figure {
  if (figure.contributions.length === 0) return figure
  return {
    value: figure.value,
    contributions: figure.contributions.map(({ input, part, rectangle }) => ({
      input: name(input),
      part,
      rectangle,
    })),
  }
}
