import { plusMinusSi, valueSi } from '../codec/measures.js'
import type { Shared, TireSizeInput, TireSizeStore } from '../db/store.js'
import { DomainError } from '../domain/errors.js'
import { parseTireSize } from '../domain/tires/size.js'
import { builtInSizes, type SizeTable, type TabulatedSize } from '../domain/tires/size-table.js'
import type { TireSizeShape } from '../schemas/tire-sizes.js'
import { type Column, column, measureColumns } from './csv.js'
import { readRecords, recordCells, type TableRecord, VERSION_COLUMN } from './tables.js'

/** Maximum diameter of a stored row. */
const MAX_DIAMETER_M = 10

/** A length in millimeters for messages. */
const millimeters = (lengthM: number) => Number((lengthM * 1000).toPrecision(6))

/**
 * A row in its stored form, with the designation of its size as the key.
 *
 * @throws {DomainError} those of `parseTireSize`; `tire-size-built-in`, `out-of-range`
 */
export function tireSizeInput(wire: TireSizeShape): TireSizeInput {
  const size = parseTireSize(wire.size, wire.construction)
  const { designation } = size
  if (builtInSizes(designation) !== undefined) {
    throw new DomainError(
      'tire-size-built-in',
      `size: ${designation} is in the built-in table, which has priority: this row would never be used`,
      { pointer: '/size', size: designation },
    )
  }
  const overallDiameterM = valueSi('length', wire.overallDiameter)
  if (overallDiameterM <= size.rimDiameterM) {
    throw new DomainError(
      'out-of-range',
      `overallDiameter: expected more than the rim of ${designation}, ${millimeters(size.rimDiameterM)} mm`,
      { pointer: '/overallDiameter' },
    )
  }
  // The bound of the schema is rounded outward in inches.
  if (overallDiameterM > MAX_DIAMETER_M) {
    throw new DomainError(
      'out-of-range',
      `overallDiameter: expected at most ${millimeters(MAX_DIAMETER_M)} mm, got ${millimeters(overallDiameterM)} mm`,
      { pointer: '/overallDiameter' },
    )
  }
  return {
    designation,
    overallDiameterM,
    ...(wire.sectionWidth === undefined ? {} : { sectionWidthM: valueSi('length', wire.sectionWidth) }),
    content: JSON.stringify(wire),
  }
}

export const tireSizeOf = ({ content }: Shared): TireSizeShape => JSON.parse(content)

/** A stored row in its domain form. */
function tabulated({ content, ...figures }: TireSizeInput): TabulatedSize {
  const { overallDiameter }: TireSizeShape = JSON.parse(content)
  return {
    ...figures,
    // Rows older than two-decimal designations are stored as 5.2-16.
    designation: figures.designation.replaceAll(/(?<=^|\/)(\d{1,2}\.\d)(?!\d)/g, '$10'),
    overallDiameterPlusMinusM: plusMinusSi('length', overallDiameter),
    source: 'stored-tire-size',
  }
}

/** The table for every tire computation: the built-in rows first, then the stored ones. */
export class SizeTables {
  private readonly store: TireSizeStore
  private rows: ReadonlyMap<string, TabulatedSize> = new Map()
  private changesElsewhere: number | undefined

  constructor(store: TireSizeStore) {
    this.store = store
  }

  /** Reads the stored rows into memory: at startup, and after every change by this process. */
  async refresh(): Promise<void> {
    // Read before the rows: the next refresh finds any change in between.
    this.changesElsewhere = await this.store.changesElsewhere()
    const figures = await this.store.figures()
    this.rows = new Map(figures.map(tabulated).map((row) => [row.designation, row]))
  }

  /** Reads the rows again if another process has changed the database. */
  async refreshIfChanged(): Promise<void> {
    if ((await this.store.changesElsewhere()) !== this.changesElsewhere) await this.refresh()
  }

  readonly find: SizeTable = (designation) => builtInSizes(designation) ?? this.rows.get(designation)
}

export const TIRE_SIZE_TABLE: readonly Column[] = [
  column('text', 'size'),
  ...measureColumns('overallDiameter', ['mm', 'in']),
  ...measureColumns('sectionWidth', ['mm', 'in']),
  column('text', 'construction'),
  column('text', 'source'),
]

export const readTireSizeTable = (text: string): TableRecord[] =>
  readRecords(text, TIRE_SIZE_TABLE, VERSION_COLUMN)

export const tireSizeRow = (row: Shared): string[] =>
  recordCells(row.id, row.version, tireSizeOf(row), TIRE_SIZE_TABLE)
