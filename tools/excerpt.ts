import { DIMENSIONS } from '../src/domain/measure/units.js'

/** Fields of answers that the pages leave out: provenance, which is documented separately, and the long series for plots. */
const LEFT_OUT = ['model', 'sources', 'notes', 'budget', 'series', 'assumptions']
const MAX_FIELDS = [10, 6, 5, 4]
const FIELDS_AGAIN = [5]
const MAX_ITEMS = 3
const LONGEST_TEXT = 100
const DIGITS = 4

/** How answers are shortened, for the reader of the pages. */
export const SHORTENING = `An answer is shown shortened, by one rule: numbers to ${DIGITS} digits; of a measure one unit of those it comes in; of a list of objects the first, of any other list the first ${MAX_ITEMS}; of an object the first ${MAX_FIELDS[0]} fields, fewer inside, and ${FIELDS_AGAIN[0]} plain ones where the page has shown an answer of that shape before; text that ends in \` ...\` goes on, and \`...\` alone stands for what differs from run to run. Of a calculation ${LEFT_OUT.map((name) => `\`${name}\``).join(', ')} are left out.`

/** Unit keys of measures. */
export const UNIT_KEYS: ReadonlySet<string> = new Set(
  Object.values(DIMENSIONS).flatMap(({ units }) => Object.keys(units)),
)

const LINES_OF_TEXT = 6
const LONGEST_LINE = 110

/** Below this, a number is zero with a rounding error. */
const ZERO = 1e-12

/** Rounds to integers from 1000 on, otherwise to significant digits. */
function rounded(value: number): number {
  if (Math.abs(value) < ZERO) return 0
  if (Number.isInteger(value)) return value
  return Math.abs(value) >= 10 ** (DIGITS - 1) ? Math.round(value) : Number(value.toPrecision(DIGITS))
}

function isMeasure(value: object): boolean {
  const keys = Object.keys(value).filter((key) => key !== 'plusMinus')
  return keys.length > 0 && keys.every((key) => UNIT_KEYS.has(key))
}

function firstUnit(measure: Record<string, unknown>): unknown {
  const unit = Object.keys(measure).find((key) => key !== 'plusMinus')!
  const shown: Record<string, unknown> = { [unit]: rounded(measure[unit] as number) }
  const uncertainty = measure.plusMinus as Record<string, number> | undefined
  if (uncertainty?.[unit] !== undefined) shown.plusMinus = { [unit]: rounded(uncertainty[unit]) }
  return shown
}

/** How an answer is shortened. */
export interface Shortening {
  /** Values that later calls use as `$NAME`, since they differ from run to run. */
  readonly names: ReadonlyMap<string, string>
  /** Whether a text differs from run to run. */
  readonly varies: (text: string) => boolean
  /** Whether the page has shown an answer of the same shape. */
  readonly shownBefore: boolean
}

const isCalculation = (value: object) => 'model' in value && 'sources' in value

/** An answer as the pages show it. */
export function shortened(answer: unknown, how: Shortening): unknown {
  const maxFields = how.shownBefore ? FIELDS_AGAIN : MAX_FIELDS
  const shorten = (value: unknown, depth: number, calculated: boolean): unknown => {
    if (typeof value === 'number') return rounded(value)
    if (typeof value === 'string') return shortText(value, how)
    if (typeof value !== 'object' || value === null) return value
    if (Array.isArray(value)) {
      const most = typeof value[0] === 'object' ? 1 : MAX_ITEMS
      return value.slice(0, most).map((item) => shorten(item, depth, calculated))
    }
    if (isMeasure(value)) return firstUnit(value as Record<string, unknown>)
    const inCalculation = calculated || isCalculation(value)
    const isLeftOut = (key: string) => inCalculation && LEFT_OUT.includes(key)
    return Object.fromEntries(
      Object.entries(value)
        .filter(([key, inner]) => !isLeftOut(key) && !isTooDeep(inner, maxFields, depth + 1))
        .slice(0, maxFields[depth])
        .map(([key, inner]) => [key, shorten(inner, depth + 1, inCalculation)]),
    )
  }
  return shorten(answer, 0, false)
}

function shortText(text: string, { names, varies }: Shortening): string {
  const name = names.get(text)
  if (name !== undefined) return `$${name}`
  if (varies(text)) return '...'
  return text.length <= LONGEST_TEXT ? text : `${text.slice(0, LONGEST_TEXT).replace(/[\s,;:]+\S*$/, '')} ...`
}

/** The first lines of a text, up to those that differ from run to run; marks the cut. */
export function shortenedLines(
  text: string,
  varies: (word: string) => boolean,
  most = LINES_OF_TEXT,
): string {
  const lines = text.trimEnd().split('\n')
  const end = lines.findIndex((line, index) => index >= most || line.split(/[^\w:.-]+/).some(varies))
  const shown = lines
    .slice(0, end === -1 ? lines.length : end)
    .map((line) => (line.length <= LONGEST_LINE ? line.trimEnd() : `${line.slice(0, LONGEST_LINE)} ...`))
  return [...shown, ...(end === -1 ? [] : ['...'])].join('\n')
}

/** Whether the shortened value is empty. */
function isTooDeep(value: unknown, maxFields: readonly number[], depth: number): boolean {
  if (Array.isArray(value)) return value.length > 0 && isTooDeep(value[0], maxFields, depth)
  const plain = typeof value !== 'object' || value === null || isMeasure(value)
  return !plain && maxFields[depth] === undefined
}
