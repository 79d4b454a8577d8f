import { figureSi } from '../codec/measures.js'
import type { PartInput, PartRevision, RemedyPart, Shared } from '../db/store.js'
import { withPointer } from '../domain/errors.js'
import { supportOf } from '../domain/fits/support.js'
import type { Figure } from '../domain/measure/figure.js'
import type { Mutable } from '../domain/mutable.js'
import { interfaceKey } from '../domain/parts/mating.js'
import type { Interface } from '../domain/parts/part.js'
import { checkInterface } from '../domain/parts/soundness.js'
import type { RecordedPart } from '../domain/vehicles/vehicle.js'
import type { MeasureIn } from '../schemas/measures.js'
import type { InterfaceShape, PartShape, PartSummaryShape } from '../schemas/parts.js'
import {
  type CellFault,
  type Column,
  type CsvRow,
  cellAt,
  cellsOf,
  column,
  measureColumns,
  objectOf,
  readCsv,
  shown,
} from './csv.js'
import { reportOf } from './fit-reports.js'
import { type TableRecord, tableNotStored, VERSION_COLUMN } from './tables.js'

const length = (wire: MeasureIn<'length'>, name: string): Figure => figureSi('length', wire, name)

/** Domain interface from the wire. */
export function interfaceOf(wire: InterfaceShape): Interface {
  switch (wire.kind) {
    case 'bolt-circle':
      return {
        kind: wire.kind,
        bolts: wire.bolts,
        circleDiameterM: length(wire.circleDiameter, 'circle diameter'),
        ...(wire.boltHole === undefined ? {} : { boltHoleM: length(wire.boltHole, 'bolt hole') }),
        ...(wire.bore === undefined ? {} : { boreM: length(wire.bore, 'bore') }),
        ...(wire.gender === undefined ? {} : { gender: wire.gender }),
      }
    case 'shaft':
      return {
        kind: wire.kind,
        form: wire.form,
        sizeM: length(wire.size, 'size'),
        gender: wire.gender,
        ...(wire.teeth === undefined ? {} : { teeth: wire.teeth }),
      }
    case 'thread':
      return { kind: wire.kind, designation: wire.designation, gender: wire.gender }
    case 'bore':
      return { kind: wire.kind, diameterM: length(wire.diameter, 'diameter') }
    case 'flange':
      return {
        kind: wire.kind,
        diameterM: length(wire.diameter, 'diameter'),
        ...(wire.spigotDiameter === undefined
          ? {}
          : { spigotDiameterM: length(wire.spigotDiameter, 'spigot diameter') }),
        ...(wire.thickness === undefined ? {} : { thicknessM: length(wire.thickness, 'thickness') }),
        ...(wire.gender === undefined ? {} : { gender: wire.gender }),
      }
  }
}

/**
 * The interfaces of a part, checked.
 *
 * @throws {DomainError} `part-impossible`, `thread-not-understood`, `out-of-range`, with the pointer to the field
 */
export function interfacesOf(part: PartShape): Interface[] {
  return part.interfaces.map((wire, index) =>
    withPointer(`/interfaces/${index}`, () => {
      const one = interfaceOf(wire)
      checkInterface(one)
      return one
    }),
  )
}

/** A part for the store: its text and its search keys. */
export function partInput(part: PartShape): PartInput {
  const { kind, name, maker, number, notes } = part
  return {
    kind,
    name,
    ...(maker === undefined ? {} : { maker }),
    ...(number === undefined ? {} : { number }),
    ...(notes === undefined ? {} : { notes }),
    interfaces: interfacesOf(part).map(interfaceKey),
    content: JSON.stringify(part),
  }
}

export const partOf = ({ content }: Shared): PartShape => JSON.parse(content)

export function summaryOf(stored: Shared): PartSummaryShape {
  const { kind, name, maker, number } = partOf(stored)
  const summary: PartSummaryShape = { id: stored.id, kind, name }
  if (maker !== undefined) summary.maker = maker
  if (number !== undefined) summary.number = number
  return summary
}

export function partRevisionText({ version, change, atMs, changedBy, content }: PartRevision): string {
  const text = JSON.stringify({ version, change, at: new Date(atMs).toISOString(), changedBy })
  return content === undefined ? text : `${text.slice(0, -1)},"part":${content}}`
}

/** Kinds of parts that may be in a path, and so correct a reading. */
export const REMEDY_KINDS: readonly RecordedPart['kind'][] = [
  'driven-gear',
  'driving-gear',
  'adapter',
  'angle-drive',
  'pulse-ring',
  'pulse-scaler',
  'head',
]

/** Maximum number of fit reports shown with a remedy; GET /v1/fits shows all. */
const MAX_REPORTS = 20

/** A part as input of a vehicle check, with the support by fit reports about that vehicle. */
export function recordedPart({ part: stored, reports: storedReports }: RemedyPart): RecordedPart {
  const { kind, name, teeth, ratio, pulsesPerTurn, input, constant } = partOf(stored)
  const part: Mutable<RecordedPart> = { id: stored.id, kind: kind as RecordedPart['kind'], name }
  if (teeth !== undefined) part.teeth = teeth
  if (ratio !== undefined) part.ratio = ratio
  if (pulsesPerTurn !== undefined) part.pulsesPerTurn = pulsesPerTurn
  if (input !== undefined) part.input = input
  if (constant !== undefined)
    part.constantPerM = figureSi('perDistance', constant, `part: constant of ${name}`)
  if (storedReports.length > 0) {
    const reports = storedReports.map(reportOf)
    part.support = supportOf(reports).support
    part.reports = reports.slice(0, MAX_REPORTS)
  }
  return part
}

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
export function readPartTable(text: string): TableRecord[] {
  const groups: [CsvRow, ...CsvRow[]][] = []
  const faults: CellFault[] = []
  for (const row of readCsv(text, PART_TABLE, VERSION_COLUMN)) {
    if (filled(row, OWN_COLUMNS)) {
      groups.push([row])
      continue
    }
    const group = groups.at(-1)
    faults.push(...misplaced(row, group?.[0]))
    group?.push(row)
  }
  if (faults.length > 0) throw tableNotStored(faults)
  return groups.map((group): TableRecord => {
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
