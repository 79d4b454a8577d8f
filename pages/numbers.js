/** Whether a text is a number in the format of the forms. @param {string} given */
export const isNumber = (given) => /^-?(\d+\.?\d*|\.\d+)$/.test(given.trim())

/**
 * Parses a number. Other text is passed on as it is, so that the service reports the error and its place.
 * @param {string} given
 */
export const numeric = (given) => (isNumber(given) ? Number(given) : given)

/**
 * A measure, keyed by its unit, with its uncertainty where one is given.
 * @param {string} unit
 * @param {string} value
 * @param {string} [uncertainty]
 */
export function measure(unit, value, uncertainty = '') {
  return { [unit]: numeric(value), ...(uncertainty === '' ? {} : { plusMinus: numeric(uncertainty) }) }
}

/** Separators of a list of numbers; a comma inside a number is not one. */
const BETWEEN = /((?:[\s;]|,(?=\s|$))+)/

/**
 * Applies a function to each number in a list.
 *
 * @param {string} list
 * @param {(value: number) => number} change
 */
export const eachNumber = (list, change) =>
  list
    .split(BETWEEN)
    .map((piece) => (isNumber(piece) ? String(change(Number(piece))) : piece))
    .join('')

/**
 * The measures of a list of numbers.
 *
 * @param {string} unit
 * @param {string} list
 */
export const measures = (unit, list) =>
  list
    .split(BETWEEN)
    .filter((piece, index) => index % 2 === 0 && piece !== '')
    .map((piece) => measure(unit, piece))
