import type { Figure } from './figure.js'
import { halfWidth, type Rectangle, type Spread, scaledRectangle, spreadFrom } from './spread.js'

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
 * Spread of a figure, or of a number times it, about its value: inputs with a tolerance as rectangles, the others together as a normal distribution.
 *
 *     u² = Σᵢ (k·cᵢ)²   over the inputs without a tolerance
 *
 * cᵢ is the contribution of input i.
 *
 * @param figure - Figure
 * @param factor - k; default: 1
 * @returns Its spread, unit of the figure
 * @see JCGM 100:2008, 4.3.7, 5.1.2 eq. (10)
 * @example spreadOf(uncertain(1, 'a', 0.25)).u // 0.25 ± 0
 * @example spreadOf(uncertain(1, 'a', 0.25), 4).u // 1 ± 0
 */
export function spreadOf(figure: Figure, factor = 1): Spread {
  let variance = 0
  let rectangles: Rectangle[] | undefined
  for (const { part, rectangle } of figure.contributions) {
    if (rectangle === undefined) {
      const scaledPart = factor * part
      variance += scaledPart * scaledPart
    } else {
      rectangles ??= []
      rectangles.push(factor === 1 ? rectangle : scaledRectangle(rectangle, factor))
    }
  }
  return spreadFrom(Math.sqrt(variance), rectangles ?? NO_RECTANGLES)
}

const NO_RECTANGLES: readonly Rectangle[] = []

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
