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
