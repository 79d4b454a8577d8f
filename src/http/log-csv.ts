import { CsvError, parse } from 'csv-parse/sync'
import { DomainError } from '../domain/errors.js'

/** Location of the values of a log in a table. */
export interface CsvColumn {
  /** Name in the first row, or number from 1. */
  readonly column: string
  readonly delimiter: ',' | ';' | '\t'
}

// Unambiguous, so that no cell of thousands of digits makes the expression backtrack.
const NUMBER = /^[+-]?(\d+(\.\d*)?|\.\d+)(e[+-]?\d+)?$/i
const LONGEST_ROW = 100_000

const columnMissing = (column: string, row: readonly string[]) =>
  new DomainError(
    'csv-column-missing',
    `column: the first row has no ${column}; it has ${row.slice(0, 20).join(', ').slice(0, 200)}; give one of these names or a number from 1`,
    { pointer: '/column', in: 'query' },
  )

/** One column of a table: its name, if the first row holds names, and its numbers. */
export interface CsvValues {
  readonly heading?: string
  readonly values: Float64Array
}

/**
 * The numbers of one column of a CSV text (RFC 4180). Empty lines are skipped; the first row may hold names.
 *
 * @throws {DomainError} `csv-not-understood`, `csv-column-missing`, `csv-cell-not-a-number`
 */
export function csvColumn(bytes: Uint8Array, { column, delimiter }: CsvColumn, maxRows: number): CsvValues {
  const values: number[] = []
  let heading: string | undefined
  let place = -1
  let row = 0
  const take = (record: readonly string[]): null => {
    row++
    if (place < 0) {
      const number = /^\d{1,4}$/.test(column) ? Number(column) - 1 : record.indexOf(column)
      if (number < 0 || number >= record.length) throw columnMissing(column, record)
      place = number
      if (!NUMBER.test(record[place]!)) {
        heading = record[place]
        return null
      }
    }
    const cell = record[place] ?? ''
    const value = NUMBER.test(cell) ? Number(cell) : Number.NaN
    if (!Number.isFinite(value)) {
      throw new DomainError(
        'csv-cell-not-a-number',
        `row ${row}: expected a number such as 1234.5 in column ${column}, got ${JSON.stringify(cell.slice(0, 40))}`,
        { row },
      )
    }
    if (values.length === maxRows) {
      throw new DomainError('out-of-range', `rows: expected at most ${maxRows}`, { max: maxRows })
    }
    values.push(value)
    return null
  }
  try {
    parse(bytes as Buffer, {
      bom: true,
      delimiter,
      trim: true,
      skip_empty_lines: true,
      max_record_size: LONGEST_ROW,
      on_record: take,
    })
  } catch (error) {
    if (!(error instanceof CsvError)) throw error
    throw new DomainError(
      'csv-not-understood',
      `near row ${row + 1}: ${error.code.toLowerCase().replaceAll('_', ' ')}; every row needs as many columns as the first, closed quotes, and the delimiter of the request`,
      { row: row + 1 },
      { cause: error },
    )
  }
  return heading === undefined
    ? { values: Float64Array.from(values) }
    : { heading, values: Float64Array.from(values) }
}
