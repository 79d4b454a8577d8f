/**
 * Text of a number: a given number of significant digits, no trailing zeros, no artifacts of binary arithmetic.
 *
 *     0.2 · 1.5 = 0.30000000000000004 → 0.3
 *
 * @param value - Finite number, any unit
 * @param figures - Significant digits. [1 .. 15]
 * @returns Text
 * @see ECMA-262, Number.prototype.toPrecision
 * @example digits(0.2 * 1.5) // "0.3"
 * @example digits(1234.5, 3) // "1230"
 */
export function digits(value: number, figures = 6): string {
  return String(Number(value.toPrecision(figures)))
}

/** Maximum number of decimals to distinguish two numbers; closer numbers count as equal. */
const MAX_DECIMALS = 6

/** Relative difference below which numbers count as equal: rounding in a computation. */
const ROUNDING = 1e-9

/**
 * Number of decimals at which different numbers in one text are written differently, so that rounding never makes a text contradict itself.
 *
 *     the minimum d, from `minDecimals` to 6, with round(x, d) ≠ round(y, d) wherever x ≠ y
 *
 * x and y are any two of the numbers; those within 1e-9 of each other count as equal.
 *
 * @param values - The numbers that a reader compares, any unit
 * @param minDecimals - Minimum number of decimals. [0 .. 6]
 * @returns d
 * @see common practice, no source
 * @example decimalsApart([159.96, 160], 1) // 2 ± 0
 * @example decimalsApart([159.9, 160], 1) // 1 ± 0
 */
export function decimalsApart(values: readonly number[], minDecimals: number): number {
  let decimals = minDecimals
  while (decimals < MAX_DECIMALS && !areDistinct(values, decimals)) decimals++
  return decimals
}

/** Whether different numbers are written differently to a number of decimals. */
function areDistinct(values: readonly number[], decimals: number): boolean {
  // Rounding moves either number by half a unit of the last decimal: farther apart than that, they are not written to be compared.
  const far = 1.001 * 10 ** -decimals
  for (let i = 1; i < values.length; i++) {
    const a = values[i]!
    for (let j = 0; j < i; j++) {
      const b = values[j]!
      const apart = Math.abs(a - b)
      if (apart > far || apart <= ROUNDING * Math.max(1, Math.abs(a), Math.abs(b))) continue
      if (Number(a.toFixed(decimals)) === Number(b.toFixed(decimals))) return false
    }
  }
  return true
}
