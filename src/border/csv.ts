import { CsvError, parse } from 'csv-parse/sync'
import { stringify } from 'csv-stringify/sync'
import { RequestProblem } from './request-problem.js'

/** One column of a table: its name, where its value stands in the object, and whether that is a number. */
export interface Column {
  readonly name: string
  readonly path: readonly string[]
  readonly type: 'text' | 'number'
}

/** What is wrong with one cell of a table. */
export interface CellFault {
  readonly line: number
  readonly column: string
  readonly value: string
  readonly code: string
  readonly detail: string
}

/** A record of a table: the line on which it begins, its cells that are not empty, and whether there are as many as columns. */
export interface CsvRow {
  readonly line: number
  readonly cells: ReadonlyMap<string, string>
  readonly faults: readonly CellFault[]
}

export const MAX_ROWS = 5_000

/** What a spreadsheet would take for a formula, or would not show as written. */
const FORMULA_START = /^['=+\-@\t\r\n＝＋－＠]/
const GUARDED = /^'['=+\-@\t\r\n＝＋－＠]/

// A quote is put before such text, and before text that begins with a quote, so that taking it off again is exact.
const guard = (text: string) => (FORMULA_START.test(text) ? `'${text}` : text)
const unguard = (text: string) => (GUARDED.test(text) ? text.slice(1) : text)

const NUMBER = /^[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?$/

interface ParsedRecord {
  readonly record: string[]
  /** The text of the record with the first character of its line end. */
  readonly raw: string
}

/** Lines that a record takes: the parser's own count takes CRLF inside a cell for two. */
const linesOf = ({ raw }: ParsedRecord) => 1 + (raw.slice(0, -1).match(/\r\n|\n|\r/g)?.length ?? 0)

const OTHER_SEPARATORS = [
  [';', 'semicolons'],
  ['\t', 'tabs'],
] as const

/** Says so where the names of the columns stand apart by another sign than a comma: as cells they would make no sense. */
function assertCommas(text: string, columns: readonly Column[]): void {
  const [first = ''] = text.replace(/^\ufeff/, '').split(/[\r\n]/, 1)
  for (const [separator, name] of OTHER_SEPARATORS) {
    const cells = first.split(separator).map((cell) => cell.trim().replace(/^"(.*)"$/, '$1'))
    const known = columns.some((column) => cells.includes(column.name))
    if (cells.length > 1 && (known || !first.includes(','))) {
      throw new RequestProblem(
        'malformed-csv',
        `The columns of the first line are set apart by ${name}. Save it with commas between the cells.`,
      )
    }
  }
}

function records(text: string): ParsedRecord[] {
  try {
    return parse(text, {
      bom: true,
      raw: true,
      relax_column_count: true,
      record_delimiter: ['\r\n', '\n', '\r'],
      max_record_size: 100_000,
      to: MAX_ROWS + 2,
    }) as unknown as ParsedRecord[]
  } catch (cause) {
    if (!(cause instanceof CsvError)) throw cause
    const { lines } = cause as CsvError & { lines?: number }
    throw new RequestProblem(
      'malformed-csv',
      `The table stops making sense at line ${lines ?? 1}: a quote inside a cell is doubled, and a cell with quotes, commas or line breaks stands in quotes (RFC 4180).`,
    )
  }
}

function header(
  [first]: readonly ParsedRecord[],
  columns: readonly Column[],
  wholeWith: string | undefined,
): string[] {
  const names = (first?.record ?? []).map((name) => name.trim())
  const known = columns.map(({ name }) => name)
  const faults = names.flatMap((name, index) => {
    if (!known.includes(name))
      return [`column ${index + 1}, ${JSON.stringify(name.slice(0, 60))}, is not known`]
    return names.indexOf(name) < index ? [`column ${name} stands twice`] : []
  })
  if (names.length === 0 || faults.length > 0) {
    throw new RequestProblem(
      'malformed-csv',
      `The first line must name the columns; ${faults[0] ?? 'it is empty'}. The columns are ${known.join(', ')}.`,
    )
  }
  const missing = known.filter((name) => !names.includes(name))
  if (wholeWith !== undefined && names.includes(wholeWith) && missing.length > 0) {
    throw new RequestProblem(
      'malformed-csv',
      `The table has the column ${wholeWith}, so its rows replace what is recorded, and a column that is left out would empty its field: add ${missing.join(', ')} as exported, or leave ${wholeWith} out to record only what is new.`,
    )
  }
  return names
}

/**
 * Reads a table (RFC 4180; UTF-8, a byte order mark is admitted; lines end in CRLF, LF or CR). Records without any value are
 * passed over.
 *
 * @param text - The table, its first line naming the columns, in any order; columns may be left out
 * @param columns - Columns that are known
 * @param wholeWith - Column with which no other may be left out, since rows with it replace what is there
 * @throws {RequestProblem} `malformed-csv`
 */
export function readCsv(text: string, columns: readonly Column[], wholeWith?: string): CsvRow[] {
  assertCommas(text, columns)
  const all = records(text)
  const names = header(all, columns, wholeWith)
  if (all.length - 1 > MAX_ROWS) {
    throw new RequestProblem('malformed-csv', `The table has more than ${MAX_ROWS} rows; send it in parts.`)
  }
  const rows: CsvRow[] = []
  let next = 1
  for (const [index, parsed] of all.entries()) {
    const { record } = parsed
    const line = next
    next += linesOf(parsed)
    if (index === 0 || record.every((cell) => cell.trim() === '')) continue
    // Spreadsheets write empty cells past the last column.
    while (record.length > names.length && record.at(-1) === '') record.pop()
    const cells = new Map<string, string>()
    for (const [place, name] of names.entries()) if (record[place]) cells.set(name, record[place])
    rows.push({
      line,
      cells,
      faults: record.length === names.length ? [] : [lengthFault(line, names, record)],
    })
  }
  return rows
}

function lengthFault(line: number, names: readonly string[], record: readonly string[]): CellFault {
  return {
    line,
    column: names[Math.min(record.length, names.length) - 1]!,
    value: '',
    code: 'wrong-length',
    detail: `expected ${names.length} cells as in the first line, got ${record.length}`,
  }
}

/** Puts the cells of a record where their columns say. What is not a number is a fault. */
export function objectOf(
  { line, cells }: CsvRow,
  columns: readonly Column[],
): { value: Record<string, unknown>; faults: CellFault[] } {
  const value: Record<string, unknown> = {}
  const faults: CellFault[] = []
  for (const { name, path, type } of columns) {
    const cell = cells.get(name)
    if (cell === undefined) continue
    if (type === 'number' && !NUMBER.test(cell.trim())) {
      const comma = /^\s*[+-]?\d+,\d+\s*$/.test(cell) ? '; write the decimal point as a point' : ''
      faults.push({
        line,
        column: name,
        value: shown(cell),
        code: 'wrong-type',
        detail: `expected a number${comma}`,
      })
      continue
    }
    let place = value
    for (const key of path.slice(0, -1)) {
      place[key] ??= {}
      place = place[key] as Record<string, unknown>
    }
    place[path.at(-1)!] = type === 'number' ? Number(cell) : unguard(cell)
  }
  return { value, faults }
}

/** The cells of an object, in the order of the columns. */
export function cellsOf(value: object, columns: readonly Column[]): string[] {
  return columns.map(({ path, type }) => {
    let inner: unknown = value
    for (const key of path) inner = (inner as Record<string, unknown> | undefined)?.[key]
    if (inner === undefined) return ''
    return type === 'number' ? String(inner) : guard(String(inner))
  })
}

/** A table as text, lines ending in CRLF. */
export function writeCsv(rows: ReadonlyArray<readonly string[]>): string {
  return stringify(rows as string[][], { record_delimiter: '\r\n', quoted_match: /^\s|\s$|[\r\n;]/ })
}

/** A cell as problems show it. */
export const shown = (cell: string) => (cell.length > 60 ? `${cell.slice(0, 57)}…` : cell)

/**
 * Says of a faulty field in which cell it stands.
 *
 * @param pointer - JSON Pointer of the field in the object that the record gave, `#` before it
 */
export function cellAt(
  pointer: string,
  { line, cells }: CsvRow,
  columns: readonly Column[],
): Pick<CellFault, 'line' | 'column' | 'value'> {
  const path = pointer.replace(/^#?\/?/, '').split('/')
  const starts = (column: Column) =>
    path.every((key, index) => column.path[index] === undefined || column.path[index] === key)
  const fitting = columns.filter(starts)
  const column = fitting.find(({ name }) => cells.has(name)) ?? fitting[0]
  const name = column?.name ?? path[0]!
  return { line, column: name, value: shown(cells.get(name) ?? '') }
}

/** Columns of a measure: one for each unit of requests that is usual in tables, and its uncertainty in that unit. */
export function measureColumns(name: string, units: readonly string[], key = name): Column[] {
  const capital = (text: string) => text[0]!.toUpperCase() + text.slice(1)
  return [...units, 'plusMinus'].map((unit) => ({
    name: `${name}${capital(unit)}`,
    path: [key, unit],
    type: 'number',
  }))
}

/** A column whose value stands in the object by the same name. */
export const column = (type: Column['type'], name: string, ...path: string[]): Column => ({
  name,
  path: path.length === 0 ? [name] : path,
  type,
})
