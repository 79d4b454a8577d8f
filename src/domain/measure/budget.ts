import type { Figure } from './figure.js'

/** Share of the variance contributed by one input. */
export interface BudgetLine {
  readonly input: string
  readonly sharePercent: number
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
