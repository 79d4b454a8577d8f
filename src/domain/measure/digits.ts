/**
 * A number for people: so many significant figures, no trailing zeros, none of the digits that binary arithmetic adds.
 *
 *     0.2 · 1.5 = 0.30000000000000004 → 0.3
 *
 * @param value - Finite number, any unit
 * @param figures - Significant figures. [1 .. 15]
 * @returns Text
 * @see ECMA-262, Number.prototype.toPrecision
 * @example digits(0.2 * 1.5) // "0.3"
 * @example digits(1234.5, 3) // "1230"
 */
export function digits(value: number, figures = 6): string {
  return String(Number(value.toPrecision(figures)))
}

/** Most decimals that a text takes to tell two numbers apart; nearer to each other they count as one. */
const MAX_DECIMALS = 6

/** Numbers that differ by less are one: what rounding leaves of a computation, as a share of them. */
const ROUNDING = 1e-9

/**
 * Decimals at which numbers of one text that differ are written differently, so that no text rounds into a contradiction.
 *
 *     the fewest decimals d, from `fewest` to 6, with round(x, d) ≠ round(y, d) wherever x ≠ y
 *
 * x and y are any two of the numbers; those within 1e-9 of each other count as equal.
 *
 * @param values - The numbers that a reader compares, any unit
 * @param fewest - Decimals where these are enough. [0 .. 6]
 * @returns d
 * @see common practice, no source
 * @example decimalsApart([159.96, 160], 1) // 2 ± 0
 * @example decimalsApart([159.9, 160], 1) // 1 ± 0
 */
export function decimalsApart(values: readonly number[], fewest: number): number {
  const isTold = (decimals: number) => {
    const written = values.map((value) => Number(value.toFixed(decimals)))
    return values.every((a, i) =>
      values.every(
        (b, j) =>
          written[i] !== written[j] || Math.abs(a - b) <= ROUNDING * Math.max(1, Math.abs(a), Math.abs(b)),
      ),
    )
  }
  let decimals = fewest
  while (decimals < MAX_DECIMALS && !isTold(decimals)) decimals++
  return decimals
}
