import type { ImportItem, ImportOutcome } from '../db/store.js'
import { DomainError } from '../domain/errors.js'
import { type ImportAnswerShape, TABLE_ROWS } from '../schemas/tables.js'
import { type CellFault, type Column, cellAt, cellsOf, objectOf, readCsv } from './csv.js'
import { type FieldFault, RequestProblem } from './request-problem.js'
import { rowRefusal } from './shared.js'

/** A record of a table before anything but its cells was looked at. */
export interface TableRecord {
  readonly line: number
  /** Cells that cannot be read: the value lacks them. */
  readonly faults: readonly CellFault[]
  readonly id?: string
  readonly version?: number
  readonly value: unknown
  /** Finds the cell of a faulty field of `value` from its JSON Pointer. */
  readonly cell: (pointer: string) => Pick<CellFault, 'line' | 'column' | 'value'>
}

/** Column by which a row says that it replaces what was exported: it then has to be whole. */
export const VERSION_COLUMN = 'version'

/** Columns by which a row says which stored thing it means. */
export const ID_COLUMNS: readonly Column[] = [
  { name: 'id', path: ['id'], type: 'text' },
  { name: VERSION_COLUMN, path: ['version'], type: 'number' },
]

/**
 * Reads a table whose rows are one record each.
 *
 * @param wholeWith - As `readCsv` takes it
 */
export function readRecords(text: string, columns: readonly Column[], wholeWith?: string): TableRecord[] {
  return readCsv(text, [...ID_COLUMNS, ...columns], wholeWith).map((row) => {
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

/** The cells of one record, as `readRecords` reads them. */
export const recordCells = (id: string, version: number, value: object, columns: readonly Column[]) => [
  ...cellsOf({ id, version }, ID_COLUMNS),
  ...cellsOf(value, columns),
]

/** Faults of a value by its schema, as the explainer of requests words them. */
export type Faults = (value: unknown) => ReadonlyArray<Omit<FieldFault, 'in'>>

/** A row that may be stored, and where it stands. */
export interface SoundRow<Input> {
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

/** Waits for the turn to work for a while, where other callers have theirs in between. */
export type NextTurn = () => Promise<{ isOver(): boolean }>

/**
 * Looks at every row, in turns with all else: by its schema, then by what the domain says of it.
 *
 * @param inputOf - What the store takes of a value that its schema admits; throws `DomainError` for what cannot be
 */
export async function soundRows<Input>(
  records: readonly TableRecord[],
  faultsOf: Faults,
  inputOf: (value: unknown) => Input,
  nextTurn: NextTurn,
): Promise<{ rows: SoundRow<Input>[]; faults: CellFault[] }> {
  const faults: CellFault[] = []
  const rows: SoundRow<Input>[] = []
  let turn = await nextTurn()
  for (const record of records) {
    if (turn.isOver()) turn = await nextTurn()
    const { line, id, version, value, cell } = record
    const found = [...record.faults, ...identity(record)]
    for (const { pointer, code, detail } of faultsOf(value)) {
      const place = cell(pointer)
      // What follows from a cell that cannot be read is no news.
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

/** What is wrong with the rows that the store did not take. */
export function refusedRows(
  rows: readonly SoundRow<unknown>[],
  outcomes: readonly ImportOutcome[],
): CellFault[] {
  return outcomes.flatMap((outcome, index) => {
    const refusal = rowRefusal(outcome)
    if (refusal === undefined) return []
    const { line, item, cell } = rows[index]!
    const { column } = refusal
    if (column === 'id' || column === VERSION_COLUMN)
      return [{ line, value: String(item[column] ?? ''), ...refusal }]
    const fault = { ...cell(`#/${column}`), ...refusal }
    // What another row of the table made is gone again when the table is refused: its line is what can be looked up.
    const maker =
      outcome.outcome === 'taken' ? outcomes.findIndex((other) => storedId(other) === outcome.id) : -1
    return maker === -1 ? [fault] : [{ ...fault, detail: `line ${rows[maker]!.line} has this size already` }]
  })
}

/** Id of what a row made or found as it says, if the row was taken. */
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
  rows: readonly SoundRow<unknown>[],
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

/** Nothing of the table was stored: each fault by its line and column. */
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
