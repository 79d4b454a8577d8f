import type { Shared } from '../db/store.js'
import { type Column, column, measureColumns, type NextSlice } from './csv.js'
import { readRecords, recordCells, type TableRecord, VERSION_COLUMN } from './tables.js'

export const TIRE_SIZE_TABLE: readonly Column[] = [
  column('text', 'size'),
  ...measureColumns('overallDiameter', ['mm', 'in']),
  ...measureColumns('sectionWidth', ['mm', 'in']),
  column('text', 'construction'),
  column('text', 'source'),
]

export const readTireSizeTable = (text: string, nextSlice: NextSlice): Promise<TableRecord[]> =>
  readRecords(text, TIRE_SIZE_TABLE, nextSlice, VERSION_COLUMN)

export const tireSizeRow = ({ id, version, content }: Shared): string[] =>
  recordCells(id, version, JSON.parse(content), TIRE_SIZE_TABLE)
