/** Decimals that an uncertainty leaves: those of the uncertainty itself at two digits (GUM 7.2.6); below zero: tens, hundreds. */
const decimalsOf = (uncertainty: number) => 1 - Math.floor(Math.log10(Number(uncertainty.toPrecision(2))))

/** More decimals than these say nothing on paper, and an uncertainty below their last place is none. */
const MAX_DECIMALS = 6

/** From here up digits are counted in powers of ten. */
const LARGEST_PLAIN = 1e7

/** A number for people: so many decimals (below zero: whole tens, hundreds), a true minus sign, no negative zero. */
export function rounded(value: number, decimals: number): string {
  if (Math.abs(value) >= LARGEST_PLAIN) return value.toExponential(2).replaceAll('-', '−')
  const step = 10 ** -decimals
  const text =
    decimals < 0
      ? (Math.round(value / step) * step).toFixed(0)
      : value.toFixed(Math.min(MAX_DECIMALS, decimals))
  return text.replace(/^-(?=0(\.0*)?$)/, '').replace('-', '−')
}

/** The same without zeros at the end: for what is exact. */
export const trimmed = (value: number, decimals: number) =>
  rounded(value, decimals)
    .replace(/(\.\d*?)0+$/, '$1')
    .replace(/\.$/, '')

const isUncertainty = (uncertainty: number | undefined): uncertainty is number =>
  uncertainty !== undefined && uncertainty >= 10 ** -MAX_DECIMALS

/** A value with the digits that its uncertainty leaves; `decimals` of them when it has none. */
export const valueText = (value: number, uncertainty: number | undefined, decimals: number) =>
  rounded(value, isUncertainty(uncertainty) ? decimalsOf(uncertainty) : decimals)

/** Decimals at which a number that is not zero is not written as zero, so that no error of a failing dial reads 0.0; `fewest` where these are enough. */
export function decimalsShowing(value: number, fewest: number): number {
  let decimals = fewest
  while (decimals < MAX_DECIMALS && Number(value.toFixed(decimals)) === 0) decimals++
  return Number(value.toFixed(decimals)) === 0 ? fewest : decimals
}

/** A number above zero at two digits. */
export const twoDigits = (value: number) => rounded(value, decimalsOf(value))

/** An uncertainty at two digits; empty when there is none. */
export const uncertaintyText = (uncertainty: number | undefined) =>
  isUncertainty(uncertainty) ? twoDigits(uncertainty) : ''

/** Between blanks at which no line is broken. */
const PLUS_MINUS = '\u{A0}±\u{A0}'

/** A value and its uncertainty; `decimals` without trailing zeros when it has none. */
export const figureText = (value: number, uncertainty: number | undefined, decimals: number) =>
  isUncertainty(uncertainty)
    ? `${valueText(value, uncertainty, decimals)}${PLUS_MINUS}${uncertaintyText(uncertainty)}`
    : trimmed(value, decimals)

/** A number that may lie on either side of zero: its sign is always written. */
export const signed = (text: string) => (/^(−|0(\.0*)?$)/.test(text) ? text : `+${text}`)
