import type { ImportItem, ImportOutcome } from '../db/store.js'
import { DomainError } from '../domain/errors.js'
import { type ImportAnswerShape, TABLE_ROWS } from '../schemas/tables.js'
import { type CellFault, type Column, cellAt, cellsOf, type NextSlice, objectOf, readCsv } from './csv.js'
import { type FieldFault, RequestProblem } from './request-problem.js'
import { rowRefusal } from './shared.js'

/** A record of a table before validation. */
export interface TableRecord {
  readonly line: number
  /** Faults of unreadable cells, which `value` lacks. */
  readonly faults: readonly CellFault[]
  readonly id?: string
  readonly version?: number
  readonly value: unknown
  /** The cell of a faulty field of `value`, from its JSON Pointer. */
  readonly cell: (pointer: string) => Pick<CellFault, 'line' | 'column' | 'value'>
}

/** Column of the version that a row replaces: such a row must be complete. */
export const VERSION_COLUMN = 'version'

/** Columns that identify a stored record. */
export const ID_COLUMNS: readonly Column[] = [
  { name: 'id', path: ['id'], type: 'text' },
  { name: VERSION_COLUMN, path: ['version'], type: 'number' },
]

/** What a function makes of each item, in time slices. */
export async function sliced<Item, Made>(
  items: readonly Item[],
  nextSlice: NextSlice,
  make: (item: Item) => Made,
): Promise<Made[]> {
  const made: Made[] = []
  let slice = await nextSlice()
  for (const item of items) {
    if (slice.isOver()) slice = await nextSlice()
    made.push(make(item))
  }
  return made
}

/**
 * Reads a table with one record per row.
 *
 * @param nextSlice - As for `readCsv`
 * @param wholeWith - As for `readCsv`
 */
export async function readRecords(
  text: string,
  columns: readonly Column[],
  nextSlice: NextSlice,
  wholeWith?: string,
): Promise<TableRecord[]> {
  const rows = await readCsv(text, [...ID_COLUMNS, ...columns], nextSlice, wholeWith)
  return sliced(rows, nextSlice, (row) => {
    const ids = objectOf(row, ID_COLUMNS)
    const { value, faults } = objectOf(row, columns)
    return {
      line: row.line,
      faults: [...row.faults, ...ids.faults, ...faults],
      ...ids.value,
      value,
      cell: (pointer) => cellAt(pointer, row, columns),
    }
  })
}

/** The cells of one record, for `readRecords`. */
export const recordCells = (id: string, version: number, value: object, columns: readonly Column[]) => [
  ...cellsOf({ id, version }, ID_COLUMNS),
  ...cellsOf(value, columns),
]

/** Faults of a value by its schema, worded as for requests. */
export type Faults = (value: unknown) => ReadonlyArray<Omit<FieldFault, 'in'>>

/** A valid row, with its line. */
export interface ValidRow<Input> {
  readonly line: number
  readonly item: ImportItem<Input>
  readonly cell: TableRecord['cell']
}

const ID = /^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/

function identity({ line, id, version }: TableRecord): CellFault[] {
  const faults: CellFault[] = []
  if (id !== undefined && !ID.test(id)) {
    const detail = 'expected an id of this service (UUID version 7, lower case), or nothing'
    faults.push({ line, column: 'id', value: id.slice(0, 60), code: 'wrong-form', detail })
  }
  if (version !== undefined && !(Number.isSafeInteger(version) && version >= 1)) {
    const detail = 'expected the version that was exported, a whole number, or nothing'
    faults.push({ line, column: 'version', value: String(version), code: 'wrong-form', detail })
  }
  return faults
}

/**
 * Validates every row, in turns with other requests: by its schema, then by the domain.
 *
 * @param inputOf - Converts a schema-valid value to store input; throws `DomainError` for impossible values
 */
export async function validRows<Input>(
  records: readonly TableRecord[],
  faultsOf: Faults,
  inputOf: (value: unknown) => Input,
  nextSlice: NextSlice,
): Promise<{ rows: ValidRow<Input>[]; faults: CellFault[] }> {
  const faults: CellFault[] = []
  const rows: ValidRow<Input>[] = []
  let slice = await nextSlice()
  for (const record of records) {
    if (slice.isOver()) slice = await nextSlice()
    const { line, id, version, value, cell } = record
    const found = [...record.faults, ...identity(record)]
    for (const { pointer, code, detail } of faultsOf(value)) {
      const place = cell(pointer)
      // Consequences of an unreadable cell are not reported again.
      if (found.some((one) => one.line === place.line && one.column === place.column)) continue
      found.push({ ...place, code, detail })
    }
    if (found.length > 0) {
      faults.push(...found)
      continue
    }
    try {
      const item: { id?: string; version?: number; input: Input } = { input: inputOf(value) }
      if (id !== undefined) item.id = id
      if (version !== undefined) item.version = version
      rows.push({ line, item, cell })
    } catch (error) {
      if (!(error instanceof DomainError)) throw error
      faults.push({ ...cell(`#${error.context.pointer ?? ''}`), code: error.code, detail: error.message })
    }
  }
  return { rows, faults }
}

const byLine = (a: CellFault, b: CellFault) => a.line - b.line

/** Faults of the rows that the store refused. */
export function refusedRows(
  rows: readonly ValidRow<unknown>[],
  outcomes: readonly ImportOutcome[],
): CellFault[] {
  /** First row of each stored record: to look for it among all rows for each refused one would take as many steps as their product. */
  const makers = new Map<string | undefined, number>()
  for (const [index, outcome] of outcomes.entries()) {
    const id = storedId(outcome)
    if (!makers.has(id)) makers.set(id, index)
  }
  return outcomes.flatMap((outcome, index) => {
    const refusal = rowRefusal(outcome)
    if (refusal === undefined) return []
    const { line, item, cell } = rows[index]!
    const { column } = refusal
    if (column === 'id' || column === VERSION_COLUMN)
      return [{ line, value: String(item[column] ?? ''), ...refusal }]
    const fault = { ...cell(`#/${column}`), ...refusal }
    // A record created by another row is rolled back with the table, so its line is given, not its id.
    const maker = outcome.outcome === 'taken' ? makers.get(outcome.id) : undefined
    return maker === undefined
      ? [fault]
      : [{ ...fault, detail: `line ${rows[maker]!.line} has this size already` }]
  })
}

/** Id of the record of a row, if the row was accepted. */
function storedId(outcome: ImportOutcome): string | undefined {
  switch (outcome.outcome) {
    case 'created':
    case 'replaced':
    case 'unchanged':
      return outcome.id
    default:
      return undefined
  }
}

const MAX_PROBLEMS = 200

export function importOut(
  rows: readonly ValidRow<unknown>[],
  outcomes: readonly ImportOutcome[],
  faults: readonly CellFault[],
  dryRun: boolean,
): ImportAnswerShape {
  const done: ImportAnswerShape['rows'] = []
  for (const [index, outcome] of outcomes.entries()) {
    const { line } = rows[index]!
    if (outcome.outcome === 'created') done.push(dryRun ? { line, outcome: 'created' } : { line, ...outcome })
    else if (outcome.outcome === 'replaced' || outcome.outcome === 'unchanged') {
      done.push({ line, outcome: outcome.outcome, id: outcome.id })
    }
  }
  const count = (wanted: string) => done.filter(({ outcome }) => outcome === wanted).length
  const problems = [...faults, ...refusedRows(rows, outcomes)].sort(byLine)
  return {
    dryRun,
    created: count('created'),
    replaced: count('replaced'),
    unchanged: count('unchanged'),
    rows: done.slice(0, TABLE_ROWS),
    problems: problems.slice(0, MAX_PROBLEMS),
    problemCount: problems.length,
  }
}

const MAX_ERRORS = 50

/** Problem for a table that was not stored: each fault by line and column. */
export function tableNotStored(faults: readonly CellFault[]): RequestProblem {
  const sorted = [...faults].sort(byLine)
  const [first] = sorted
  const more = sorted.length > 1 ? ` (and ${sorted.length - 1} more)` : ''
  return new RequestProblem(
    'table-not-stored',
    `Nothing was stored. Line ${first!.line}, ${first!.column}: ${first!.detail}${more}.`,
    sorted.slice(0, MAX_ERRORS).map(({ line, column, value, code, detail }) => ({
      in: 'body',
      pointer: `#/${line}/${column}`,
      code,
      detail,
      line,
      column,
      value,
    })),
  )
}
