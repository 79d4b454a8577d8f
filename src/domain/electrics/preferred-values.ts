import { within } from '../errors.js'

/** First decade of the preferred numbers of IEC 60063. */
const SERIES = {
  E6: [1, 1.5, 2.2, 3.3, 4.7, 6.8],
  E12: [1, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2],
  E24: [
    1, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2, 2.2, 2.4, 2.7, 3, 3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5,
    8.2, 9.1,
  ],
} as const

export type PreferredSeries = keyof typeof SERIES

/** Scaled through decimal text, so that 4.7 x 1000 is exactly 4700 and 2.2 x 1e-9 exactly 2.2e-9. */
const scaledByTen = (value: number, exponent: number) => Number(`${value}e${exponent}`)

/**
 * Preferred values of a series inside a closed range, ascending.
 *
 *     a · 10ⁿ
 *
 * a is a value of the first decade of the series, n a whole number.
 *
 * @param series - E6, E12 or E24
 * @param min - Lower end, any unit. [1e-15 .. 1e15]
 * @param max - Upper end, same unit. [1e-15 .. 1e15]
 * @returns The values; none if the range holds none or its ends are swapped
 * @throws {DomainError} `out-of-range`
 * @see IEC 60063
 * @example preferredBetween('E24', 1533.33, 1770.33) // [1600]
 * @example preferredBetween('E6', 8, 25) // [10,15,22]
 */
export function preferredBetween(series: PreferredSeries, min: number, max: number): number[] {
  within('min', min, 1e-15, 1e15)
  within('max', max, 1e-15, 1e15)
  const values: number[] = []
  for (let exponent = Math.floor(Math.log10(min)) - 1; exponent <= Math.log10(max) + 1; exponent++) {
    for (const first of SERIES[series]) {
      const value = scaledByTen(first, exponent)
      if (value >= min && value <= max) values.push(value)
    }
  }
  return values
}

/**
 * Preferred value nearest to a number, by ratio.
 *
 *     the value v of the series with the smallest |ln(v/x)|
 *
 * @param series - E6, E12 or E24
 * @param x - Number, any unit. [1e-13 .. 1e13]
 * @returns v, same unit
 * @throws {DomainError} `out-of-range`
 * @see IEC 60063
 * @example preferredNearest('E24', 104000) // 100000 ± 0
 * @example preferredNearest('E12', 9.7) // 10 ± 0
 */
export function preferredNearest(series: PreferredSeries, x: number): number {
  within('x', x, 1e-13, 1e13)
  return preferredBetween(series, x / 2, x * 2).reduce((best, value) =>
    Math.abs(Math.log(value / x)) < Math.abs(Math.log(best / x)) ? value : best,
  )
}
