/** Decimals of a figure whose doubt is given: those of its doubt at two digits (GUM 7.2.6); below zero: tens, hundreds. */
const decimalsOf = (doubt: number) => 1 - Math.floor(Math.log10(Number(doubt.toPrecision(2))))

/** More decimals than these say nothing on paper, whatever the doubt. */
const MOST_DECIMALS = 6

/** From here up digits are counted in powers of ten. */
const LARGEST_PLAIN = 1e7

/** A number for people: a true minus sign, no negative zero, no digits beyond the place asked for. */
export function rounded(value: number, decimals: number): string {
  if (Math.abs(value) >= LARGEST_PLAIN) return value.toExponential(2).replaceAll('-', '−')
  const places = Math.min(MOST_DECIMALS, Math.max(0, decimals))
  const step = 10 ** Math.max(0, -decimals)
  const text = (Math.round(value / step) * step === 0 && decimals < 0 ? 0 : value).toFixed(places)
  const whole = decimals < 0 ? String(Math.round(value / step) * step) : text
  return /^-0(\.0*)?$/.test(whole) ? whole.slice(1) : whole.replace('-', '−')
}

/**
 * A figure for people: as many digits as its doubt leaves, then the doubt.
 *
 * @param decimals - Decimals when it has no doubt
 */
export function figureText(value: number, doubt: number | undefined, decimals: number): string {
  if (doubt === undefined || doubt < 10 ** -MOST_DECIMALS) return rounded(value, decimals)
  const places = decimalsOf(doubt)
  return `${rounded(value, places)} ± ${rounded(doubt, places)}`
}
