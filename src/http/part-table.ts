import type { PartShape } from '../schemas/parts.js'
import {
  type CellFault,
  type Column,
  type CsvRow,
  cellAt,
  cellsOf,
  column,
  measureColumns,
  type NextSlice,
  objectOf,
  readCsv,
  shown,
} from './csv.js'
import { sliced, type TableRecord, tableNotStored, VERSION_COLUMN } from './tables.js'

const ID_COLUMN = column('text', 'id')

/** Columns of the part itself. A part with several interfaces has one row for each; after the first row, all these columns except the id are empty. */
const OWN_COLUMNS: readonly Column[] = [
  column('number', VERSION_COLUMN),
  column('text', 'kind', 'part', 'kind'),
  column('text', 'name', 'part', 'name'),
  column('text', 'maker', 'part', 'maker'),
  column('text', 'number', 'part', 'number'),
  column('number', 'teeth', 'part', 'teeth'),
  column('number', 'ratio', 'part', 'ratio'),
  column('number', 'pulsesPerTurn', 'part', 'pulsesPerTurn'),
  column('text', 'input', 'part', 'input'),
  ...measureColumns('constant', ['perKm', 'perMile']).map((one) => ({ ...one, path: ['part', ...one.path] })),
  column('text', 'notes', 'part', 'notes'),
]

const PART_COLUMNS = [ID_COLUMN, ...OWN_COLUMNS]

const lengthColumns = (name: string) => measureColumns(name, ['mm', 'in'])

const INTERFACE_COLUMNS: readonly Column[] = [
  column('text', 'interface', 'kind'),
  column('text', 'gender'),
  column('number', 'bolts'),
  ...lengthColumns('circleDiameter'),
  ...lengthColumns('boltHole'),
  ...lengthColumns('bore'),
  column('text', 'form'),
  ...lengthColumns('size'),
  column('number', 'splineTeeth', 'teeth'),
  column('text', 'thread', 'designation'),
  ...lengthColumns('diameter'),
  ...lengthColumns('spigotDiameter'),
  ...lengthColumns('thickness'),
]

export const PART_TABLE: readonly Column[] = [...PART_COLUMNS, ...INTERFACE_COLUMNS]

const filled = (row: CsvRow, columns: readonly Column[]) => columns.some(({ name }) => row.cells.has(name))

/** Fault of a further row that is not below its part. */
function misplaced(row: CsvRow, above: CsvRow | undefined): CellFault[] {
  const { line } = row
  if (above === undefined) {
    const detail =
      'the first row must name a part: only rows below it may leave the columns of the part empty'
    return [{ line, column: 'name', value: '', code: 'missing', detail }]
  }
  const { name } = ID_COLUMN
  const [id, expected] = [row.cells.get(name), above.cells.get(name)]
  if (id === expected) return []
  const detail = `this row is a further interface of a part and must be below that part, with its id; the part above, line ${above.line}, has ${expected === undefined ? 'no id' : `the id ${expected}`}`
  return [{ line, column: name, value: shown(id ?? ''), code: 'mismatch', detail }]
}

/**
 * Reads parts: a row with empty part columns is a further interface of the part above it and has the same id.
 *
 * @throws {RequestProblem} `malformed-csv`; `table-not-stored` for rows that are not below their part, as after sorting:
 *   the parts can then not be reassembled
 */
export async function readPartTable(text: string, nextSlice: NextSlice): Promise<TableRecord[]> {
  const groups: [CsvRow, ...CsvRow[]][] = []
  const faults: CellFault[] = []
  for (const row of await readCsv(text, PART_TABLE, nextSlice, VERSION_COLUMN)) {
    if (filled(row, OWN_COLUMNS)) {
      groups.push([row])
      continue
    }
    const group = groups.at(-1)
    faults.push(...misplaced(row, group?.[0]))
    group?.push(row)
  }
  if (faults.length > 0) throw tableNotStored(faults)
  return sliced(groups, nextSlice, (group): TableRecord => {
    const [first] = group
    const own = objectOf(first, PART_COLUMNS)
    const withInterface = group.filter((row) => filled(row, INTERFACE_COLUMNS))
    const interfaces = withInterface.map((row) => objectOf(row, INTERFACE_COLUMNS))
    const { part, ...identity } = own.value as { id?: string; version?: number; part?: object }
    return {
      line: first.line,
      faults: [...group, own, ...interfaces].flatMap(({ faults }) => faults),
      ...identity,
      value: { ...part, interfaces: interfaces.map(({ value }) => value) },
      cell(pointer) {
        const inside = /^#?\/interfaces\/(\d+)(.*)$/.exec(pointer)
        const row = inside === null ? undefined : withInterface[Number(inside[1])]
        return row === undefined
          ? cellAt(`/part${pointer.replace(/^#/, '')}`, first, PART_COLUMNS)
          : cellAt(inside![2] === '' ? '/kind' : inside![2]!, row, INTERFACE_COLUMNS)
      },
    }
  })
}

/** Rows of a part: the first with the part and its first interface, then one for each further interface, with the id. */
export function partRows(stored: { id: string; version: number; part: PartShape }): string[][] {
  const own = cellsOf(stored, PART_COLUMNS)
  const blank = [stored.id, ...OWN_COLUMNS.map(() => '')]
  const interfaces = stored.part.interfaces.map((one) => cellsOf(one, INTERFACE_COLUMNS))
  const [first = INTERFACE_COLUMNS.map(() => ''), ...further] = interfaces
  return [[...own, ...first], ...further.map((cells) => [...blank, ...cells])]
}
