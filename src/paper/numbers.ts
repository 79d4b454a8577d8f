/** Significant decimals of an uncertainty written with two digits (GUM 7.2.6); negative for tens and hundreds. */
const decimalsOf = (uncertainty: number) => 1 - Math.floor(Math.log10(Number(uncertainty.toPrecision(2))))

/** Most decimals printed; an uncertainty below the last of them counts as zero. */
const MAX_DECIMALS = 6

/** From here on numbers are written in scientific notation. */
const LARGEST_PLAIN = 1e7

/** A number with the given decimals (negative: rounded to tens, hundreds), a typographic minus sign and no negative zero. */
export function rounded(value: number, decimals: number): string {
  if (Math.abs(value) >= LARGEST_PLAIN) return value.toExponential(2).replaceAll('-', '−')
  const step = 10 ** -decimals
  const text =
    decimals < 0
      ? (Math.round(value / step) * step).toFixed(0)
      : value.toFixed(Math.min(MAX_DECIMALS, decimals))
  return text.replace(/^-(?=0(\.0*)?$)/, '').replace('-', '−')
}

/** The same without trailing zeros, for exact values. */
export const trimmed = (value: number, decimals: number) =>
  rounded(value, decimals)
    .replace(/(\.\d*?)0+$/, '$1')
    .replace(/\.$/, '')

const isUncertainty = (uncertainty: number | undefined): uncertainty is number =>
  uncertainty !== undefined && uncertainty >= 10 ** -MAX_DECIMALS

/** A value rounded to the decimals of its uncertainty, or to `decimals` without one. */
export const valueText = (value: number, uncertainty: number | undefined, decimals: number) =>
  rounded(value, isUncertainty(uncertainty) ? decimalsOf(uncertainty) : decimals)

/** Decimals needed so that a number other than zero is not printed as zero (the error of a failing dial must not read 0.0); at least `fewest`. */
export function decimalsShowing(value: number, fewest: number): number {
  let decimals = fewest
  while (decimals < MAX_DECIMALS && Number(value.toFixed(decimals)) === 0) decimals++
  return Number(value.toFixed(decimals)) === 0 ? fewest : decimals
}

/** A positive number with two significant digits. */
export const twoDigits = (value: number) => rounded(value, decimalsOf(value))

/** An uncertainty with two significant digits; empty when there is none. */
export const uncertaintyText = (uncertainty: number | undefined) =>
  isUncertainty(uncertainty) ? twoDigits(uncertainty) : ''

/** With no-break spaces. */
const PLUS_MINUS = '\u{A0}±\u{A0}'

/** A value and its uncertainty; `decimals` without trailing zeros when it has none. */
export const figureText = (value: number, uncertainty: number | undefined, decimals: number) =>
  isUncertainty(uncertainty)
    ? `${valueText(value, uncertainty, decimals)}${PLUS_MINUS}${uncertaintyText(uncertainty)}`
    : trimmed(value, decimals)

/** A number with its sign always written. */
export const signed = (text: string) => (/^(−|0(\.0*)?$)/.test(text) ? text : `+${text}`)
