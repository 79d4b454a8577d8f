import { Readable } from 'node:stream'
import { pipeline } from 'node:stream/promises'
import { CsvError, parse } from 'csv-parse'
import { stringify } from 'csv-stringify/sync'
import { RequestProblem } from './request-problem.js'

/** One column of a table: its name, the path of its value in the object, and its type. */
export interface Column {
  readonly name: string
  readonly path: readonly string[]
  readonly type: 'text' | 'number'
}

/** Fault of one cell of a table. */
export interface CellFault {
  readonly line: number
  readonly column: string
  readonly value: string
  readonly code: string
  readonly detail: string
}

/** A record of a table: the line on which it begins, its cells that are not empty, and its faults. */
export interface CsvRow {
  readonly line: number
  readonly cells: ReadonlyMap<string, string>
  readonly faults: readonly CellFault[]
}

export const MAX_ROWS = 5_000

/** Waits for a time slice: permission to work for a while, between which other callers are served. */
export type NextSlice = () => Promise<{ isOver(): boolean }>

/** Bytes that are parsed between two looks at the time: some tenths of a millisecond. */
const PIECE_BYTES = 4_096

/** Text that a spreadsheet would treat as a formula, or would not show as written. */
const FORMULA_START = /^['=+\-@\t\r\n＝＋－＠]/
const GUARDED = /^'['=+\-@\t\r\n＝＋－＠]/

// Such text gets an apostrophe in front, and so does text that begins with one, so that removing it is exact.
const guard = (text: string) => (FORMULA_START.test(text) ? `'${text}` : text)
const unguard = (text: string) => (GUARDED.test(text) ? text.slice(1) : text)

const NUMBER = /^[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?$/

interface ParsedRecord {
  readonly record: string[]
  /** The text of the record with the first character of its line end. */
  readonly raw: string
}

/** Number of lines of a record: the parser counts CRLF inside a cell as two. */
const linesOf = ({ raw }: ParsedRecord) => 1 + (raw.slice(0, -1).match(/\r\n|\n|\r/g)?.length ?? 0)

const OTHER_SEPARATORS = [
  [';', 'semicolons'],
  ['\t', 'tabs'],
] as const

/** Refuses a table with another separator than a comma in its first line. */
function assertCommas(text: string, columns: readonly Column[]): void {
  const [first = ''] = text.replace(/^\ufeff/, '').split(/[\r\n]/, 1)
  for (const [separator, name] of OTHER_SEPARATORS) {
    const cells = first.split(separator).map((cell) => cell.trim().replace(/^"(.*)"$/, '$1'))
    const known = columns.some((column) => cells.includes(column.name))
    if (cells.length > 1 && (known || !first.includes(','))) {
      throw new RequestProblem(
        'malformed-csv',
        `The first line separates its columns by ${name}. Save the table with commas between the cells.`,
      )
    }
  }
}

/** The records of a table, in time slices; one more than there may be of a table with too many. */
async function recordsOf(text: string, nextSlice: NextSlice): Promise<ParsedRecord[]> {
  const records: ParsedRecord[] = []
  const hasTooMany = () => records.length > MAX_ROWS + 1
  const parser = parse({
    bom: true,
    raw: true,
    relax_column_count: true,
    record_delimiter: ['\r\n', '\n', '\r'],
    max_record_size: 100_000,
    on_record: (record) => {
      if (!hasTooMany()) records.push(record as unknown as ParsedRecord)
      return null
    },
  })
  async function* pieces() {
    const bytes = Buffer.from(text)
    let slice = await nextSlice()
    for (let at = 0; at < bytes.length && !hasTooMany(); at += PIECE_BYTES) {
      if (slice.isOver()) slice = await nextSlice()
      yield bytes.subarray(at, at + PIECE_BYTES)
    }
  }
  try {
    await pipeline(Readable.from(pieces()), parser)
    return records
  } catch (cause) {
    // The end of what was read of a table with too many rows is within a record.
    if (hasTooMany()) return records
    if (!(cause instanceof CsvError)) throw cause
    const { lines } = cause as CsvError & { lines?: number }
    throw new RequestProblem(
      'malformed-csv',
      `The table cannot be parsed at line ${lines ?? 1}: double a quote inside a cell, and put a cell with quotes, commas or line breaks in quotes (RFC 4180).`,
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
    return names.indexOf(name) < index ? [`column ${name} is there twice`] : []
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
      `The table has the column ${wholeWith}, so its rows replace stored records, and a missing column would clear its field: add ${missing.join(', ')} as exported, or leave ${wholeWith} out to add new records only.`,
    )
  }
  return names
}

/**
 * Reads a table in time slices (RFC 4180; UTF-8, with or without a byte order mark; lines end in CRLF, LF or CR). Records without any value
 * are skipped.
 *
 * @param text - The table; its first line names the columns, in any order; columns may be left out
 * @param columns - Known columns
 * @param nextSlice - Waits for the next time slice
 * @param wholeWith - Column that requires all others, since rows with it replace stored records
 * @throws {RequestProblem} `malformed-csv`
 */
export async function readCsv(
  text: string,
  columns: readonly Column[],
  nextSlice: NextSlice,
  wholeWith?: string,
): Promise<CsvRow[]> {
  assertCommas(text, columns)
  const all = await recordsOf(text, nextSlice)
  const names = header(all, columns, wholeWith)
  if (all.length - 1 > MAX_ROWS) {
    throw new RequestProblem('malformed-csv', `The table has more than ${MAX_ROWS} rows; send it in parts.`)
  }
  const rows: CsvRow[] = []
  let next = 1
  let slice = await nextSlice()
  for (const [index, parsed] of all.entries()) {
    if (slice.isOver()) slice = await nextSlice()
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

/** The object of a record, by the paths of its columns. A cell of a number column that is not a number is a fault. */
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
      const comma = /^\s*[+-]?\d+,\d+\s*$/.test(cell) ? '; write a point as the decimal sign' : ''
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

/** A cell as shown in problems, shortened. */
export const shown = (cell: string) => (cell.length > 60 ? `${cell.slice(0, 57)}…` : cell)

/**
 * The cell of a faulty field.
 *
 * @param pointer - JSON Pointer of the field in the object of the record, with `#` in front
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

/** Columns of a measure: one for each of the units, and one for its uncertainty in that unit. */
export function measureColumns(name: string, units: readonly string[], key = name): Column[] {
  const capital = (text: string) => text[0]!.toUpperCase() + text.slice(1)
  return [...units, 'plusMinus'].map((unit) => ({
    name: `${name}${capital(unit)}`,
    path: [key, unit],
    type: 'number',
  }))
}

/** A column whose value is at `path` of the object, by default at its own name. */
export const column = (type: Column['type'], name: string, ...path: string[]): Column => ({
  name,
  path: path.length === 0 ? [name] : path,
  type,
})
