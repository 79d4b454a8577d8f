import { finite, within } from '../errors.js'
import type { Mutable } from '../mutable.js'
import { halfWidth, type Rectangle, type Spread, scaledRectangle, spreadFrom } from './spread.js'

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

/** Share of the variance contributed by one input. */
export interface BudgetLine {
  readonly input: string
  readonly sharePercent: number
}

/** Coverage factor for a level of about 95 % (JCGM 100:2008, 6.3.3). */
export const COVERAGE_FACTOR = 2

// Linear search: figures have few inputs, and a map for each costs more than all the arithmetic.
const NO_CONTRIBUTIONS: readonly Contribution[] = []

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
    : { value, contributions: [{ input, part: standardUncertainty }] }
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
 * First-order propagation: a value and its partial derivatives with respect to the figures it is computed from.
 *
 *     u(y)² = Σᵢ ( Σⱼ ∂f/∂xⱼ · cⱼᵢ )²   over independent inputs i
 *
 * cⱼᵢ is the contribution of input i to xⱼ, with its sign.
 *
 * Valid while f is nearly linear over the uncertainty of its arguments.
 *
 * The ends of a tolerance are propagated through f itself if it is given, else by the same linear approximation.
 *
 * @param value - f(x₁ …), already computed
 * @param terms - Pairs of a figure xⱼ and the derivative ∂f/∂xⱼ at its value
 * @param f - Function of the values of the figures, in the order of the terms
 * @returns The figure
 * @throws {DomainError} `not-finite`
 * @see JCGM 100:2008, 5.1.2 eq. (10), 5.2.2 eq. (13)
 * @example plusMinus(propagate(25, [[uncertain(5, 'side', 0.1), 10]])) // 2 ± 1e-12
 */
export function propagate(
  value: number,
  terms: ReadonlyArray<readonly [Figure, number]>,
  f?: (...values: number[]) => number,
): Figure {
  finite('result', value)
  let contributions: Array<Mutable<Contribution>> | undefined
  for (const [figure, slope] of terms) {
    if (figure.contributions.length === 0) continue
    const first = contributions === undefined
    contributions ??= []
    for (const { input, part, rectangle } of figure.contributions) {
      const scaledPart = finite(input, slope * part)
      const known = first ? undefined : contributions.find((one) => one.input === input)
      if (known === undefined) contributions.push({ input, part: scaledPart, rectangle })
      else known.part += scaledPart
    }
  }
  if (contributions === undefined) return { value, contributions: NO_CONTRIBUTIONS }
  for (const one of contributions) {
    if (one.rectangle === undefined) continue
    const { input } = one
    const { shareBelow } = one.rectangle
    const deviationAt = (end: 'atLow' | 'atHigh') => {
      const ofTerm = (figure: Figure) => rectangleOf(figure, input)?.[end] ?? 0
      return f === undefined
        ? terms.reduce((total, [figure, slope]) => total + slope * ofTerm(figure), 0)
        : f(...terms.map(([figure]) => figure.value + ofTerm(figure))) - value
    }
    const [atLow, atHigh] = [finite(input, deviationAt('atLow')), finite(input, deviationAt('atHigh'))]
    one.rectangle = { atLow, atHigh, shareBelow }
  }
  return { value, contributions }
}

/** Fast path for a figure that is another figure times a number, which needs no sums over terms. */
function proportional(value: number, { contributions }: Figure, factor: number): Figure {
  finite('result', value)
  if (contributions.length === 0) return { value, contributions: NO_CONTRIBUTIONS }
  return {
    value,
    contributions: contributions.map(({ input, part, rectangle }) => ({
      input,
      part: finite(input, factor * part),
      rectangle: rectangle === undefined ? undefined : scaledRectangle(rectangle, factor),
    })),
  }
}

const rectangleOf = ({ contributions }: Figure, input: string): Rectangle | undefined =>
  contributions.find((one) => one.input === input)?.rectangle

/**
 * Product of figures.
 *
 *     y = a · b,  ∂y/∂a = b,  ∂y/∂b = a
 *
 * @param a - Figure, any unit
 * @param b - Figure, any unit
 * @returns a · b
 * @throws {DomainError} `not-finite`
 * @see JCGM 100:2008, 5.1.6 (relative uncertainties of a product add in quadrature)
 * @example plusMinus(product(uncertain(10, 'a', 0.05), exact(3))) // 0.3 ± 1e-12
 */
export function product(a: Figure, b: Figure): Figure {
  if (b.contributions.length === 0) return proportional(a.value * b.value, a, b.value)
  if (a.contributions.length === 0) return proportional(a.value * b.value, b, a.value)
  return propagate(
    a.value * b.value,
    [
      [a, b.value],
      [b, a.value],
    ],
    (x, y) => x! * y!,
  )
}

/**
 * Quotient of figures.
 *
 *     y = a / b,  ∂y/∂a = 1/b,  ∂y/∂b = −a/b²
 *
 * @param a - Figure, any unit
 * @param b - Figure other than zero, any unit
 * @returns a / b
 * @throws {DomainError} `not-finite` for b = 0
 * @see JCGM 100:2008, 5.1.6
 * @example quotient(exact(1), exact(8)).value // 0.125 ± 0
 */
export function quotient(a: Figure, b: Figure): Figure {
  if (b.contributions.length === 0) return proportional(a.value / b.value, a, 1 / b.value)
  return propagate(
    a.value / b.value,
    [
      [a, 1 / b.value],
      [b, -a.value / (b.value * b.value)],
    ],
    (x, y) => x! / y!,
  )
}

/**
 * Sum of figures.
 *
 *     y = Σ xⱼ,  ∂y/∂xⱼ = 1
 *
 * @param figures - Figures of one unit
 * @returns Their sum
 * @throws {DomainError} `not-finite`
 * @see JCGM 100:2008, 5.1.2 eq. (10)
 * @example standardUncertainty(sum(uncertain(1, 'a', 3), uncertain(1, 'b', 4))) // 5 ± 1e-12
 */
export function sum(...figures: readonly Figure[]): Figure {
  return propagate(
    figures.reduce((total, figure) => total + figure.value, 0),
    figures.map((figure) => [figure, 1] as const),
  )
}

/**
 * A figure times an exact number.
 *
 *     y = k · x
 *
 * @param figure - Figure, any unit
 * @param factor - k
 * @returns k · x
 * @throws {DomainError} `not-finite`
 * @see JCGM 100:2008, 5.1.2 eq. (10)
 * @example scaled(exact(2), -3).value // -6 ± 0
 */
export function scaled(figure: Figure, factor: number): Figure {
  return proportional(figure.value * factor, figure, factor)
}

/**
 * Combined standard uncertainty of a figure.
 *
 *     u(y) = √ Σᵢ cᵢ²
 *
 * cᵢ is the contribution of input i.
 *
 * @param figure - Figure
 * @returns u(y), k = 1, unit of the figure
 * @see JCGM 100:2008, 5.1.2 eq. (10)
 * @example standardUncertainty(uncertain(1, 'a', 0.25)) // 0.25 ± 0
 */
export function standardUncertainty(figure: Figure): number {
  if (figure.contributions.length === 0) return 0
  let variance = 0
  for (const { part } of figure.contributions) variance += part * part
  return Math.sqrt(variance)
}

/**
 * Spread of a figure about its value: inputs with a tolerance as rectangles, the others together as a normal distribution.
 *
 *     u² = Σᵢ cᵢ²   over the inputs without a tolerance
 *
 * cᵢ is the contribution of input i.
 *
 * @param figure - Figure
 * @returns Its spread, unit of the figure
 * @see JCGM 100:2008, 4.3.7, 5.1.2 eq. (10)
 * @example spreadOf(uncertain(1, 'a', 0.25)).u // 0.25 ± 0
 */
export function spreadOf(figure: Figure): Spread {
  let variance = 0
  const rectangles: Rectangle[] = []
  for (const { part, rectangle } of figure.contributions) {
    if (rectangle === undefined) variance += part * part
    else rectangles.push(rectangle)
  }
  return spreadFrom(Math.sqrt(variance), rectangles)
}

/**
 * Expanded uncertainty of a figure, for about 95 % coverage: the `plusMinus` of the wire.
 *
 *     U = 2 · u(y);  with a tolerance input the half-width about y that covers the same 95.45 %
 *
 * @param figure - Figure
 * @returns U, unit of the figure
 * @see JCGM 100:2008, 6.2.1, 6.3.3 (k = 2), G.1.3
 * @example plusMinus(uncertain(1, 'a', 0.25)) // 0.5 ± 0
 */
export function plusMinus(figure: Figure): number {
  return halfWidth(spreadOf(figure))
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
 * Uncertainty budget of a figure: the share of each input, largest first.
 *
 *     shareᵢ = 100 · cᵢ² / Σ c²   [%]
 *
 * cᵢ is the contribution of input i.
 *
 * @param figure - Figure
 * @returns One line per input; empty for a figure without uncertainty
 * @see JCGM 100:2008, 5.1.3, example in H.1.3
 * @example budget(sum(uncertain(1, 'a', 3), uncertain(1, 'b', 4)))[0].sharePercent // 64 ± 1e-9
 */
export function budget(figure: Figure): BudgetLine[] {
  let variance = 0
  for (const { part } of figure.contributions) variance += part * part
  if (variance === 0) return []
  return figure.contributions
    .map(({ input, part }) => ({ input, sharePercent: (100 * part * part) / variance }))
    .sort((a, b) => b.sharePercent - a.sharePercent || (a.input < b.input ? -1 : 1))
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
    contributions: figure.contributions.map((one) => ({ ...one, input: name(one.input) })),
  }
}

/**
 * A figure correlated with another one, such as two results of one fit.
 *
 *     r·u(y) comes from the inputs of x, in proportion to their share of u(x); √(1 − r²)·u(y) from its own inputs
 *
 * @param figure - y, based on inputs other than those of x
 * @param other - x
 * @param correlation - r(x, y). [-1..1]
 * @returns y with the same uncertainty and the correlation r with x; y unchanged if x has no uncertainty
 * @throws {DomainError} `not-finite`, `out-of-range` beyond -1..1
 * @see JCGM 100:2008, 5.2.2 eq. (14), H.3 (slope and intercept of one line)
 * @example plusMinus(correlated(uncertain(1, 'b', 3), uncertain(1, 'a', 1), -0.8)) // 6 ± 1e-12
 * @example plusMinus(sum(uncertain(1, 'a', 1), correlated(uncertain(1, 'b', 1), uncertain(1, 'a', 1), -1))) // 0 ± 1e-12
 */
export function correlated(figure: Figure, other: Figure, correlation: number): Figure {
  within('correlation', correlation, -1, 1)
  const uOther = standardUncertainty(other)
  if (uOther === 0) return figure
  const common = (correlation * standardUncertainty(figure)) / uOther
  const own = Math.sqrt(1 - correlation * correlation)
  return {
    value: figure.value,
    contributions: [...scaled(figure, own).contributions, ...scaled(other, common).contributions].filter(
      ({ part }) => part !== 0,
    ),
  }
}

/**
 * Correlation coefficient of two figures.
 *
 *     r(x, y) = Σᵢ cᵢ·dᵢ / (u(x)·u(y))
 *
 * cᵢ and dᵢ are the contributions of input i to x and to y.
 *
 * @param a - x
 * @param b - y
 * @returns r, -1..1; 0 if either has no uncertainty
 * @see JCGM 100:2008, 5.2.2 eq. (14), F.1.2.3 eq. (F.1) (figures based on the same inputs)
 * @example correlation(uncertain(1, 'a', 2), sum(uncertain(1, 'a', 3), uncertain(1, 'b', 4))) // 0.6 ± 1e-12
 */
export function correlation(a: Figure, b: Figure): number {
  const uBoth = standardUncertainty(a) * standardUncertainty(b)
  if (uBoth === 0) return 0
  let covariance = 0
  for (const { input, part } of a.contributions) covariance += part * contributionOf(b, input)
  return Math.max(-1, Math.min(1, covariance / uBoth))
}

/**
 * Contribution of one input to a figure.
 *
 *     cᵢ·u(xᵢ), 0 for an input that does not affect the figure
 *
 * cᵢ is the sensitivity coefficient of xᵢ.
 *
 * @param figure - Figure
 * @param input - Name of the input
 * @returns Signed standard uncertainty, unit of the figure
 * @see JCGM 100:2008, 5.1.3
 * @example contributionOf(scaled(uncertain(1, 'a', 0.5), -2), 'a') // -1 ± 0
 */
export function contributionOf(figure: Figure, input: string): number {
  return figure.contributions.find((one) => one.input === input)?.part ?? 0
}
