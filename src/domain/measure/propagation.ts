import { finite } from '../errors.js'
import type { Mutable } from '../mutable.js'
import { type Contribution, type Figure, NO_CONTRIBUTIONS } from './figure.js'
import { type Rectangle, scaledRectangle } from './spread.js'

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
    // Linear search below: figures have few inputs, and a map for each costs more than all the arithmetic.
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
