import type { Shared } from '../db/store.js'
import { type Column, column, type NextSlice } from './csv.js'
import { readRecords, recordCells, type TableRecord } from './tables.js'

export const FIT_TABLE: readonly Column[] = [
  column('text', 'part'),
  column('text', 'otherPart'),
  column('text', 'make', 'vehicle', 'make'),
  column('text', 'model', 'vehicle', 'model'),
  column('number', 'yearFrom', 'vehicle', 'yearFrom'),
  column('number', 'yearTo', 'vehicle', 'yearTo'),
  column('text', 'variant', 'vehicle', 'variant'),
  column('text', 'result'),
  column('text', 'evidence'),
  column('text', 'work'),
  column('text', 'author'),
  column('text', 'date'),
]

/** The subject of a row spans several columns, so its faults are reported at otherPart. */
function withSubject(record: TableRecord): TableRecord {
  const { line, value } = record
  const { vehicle, otherPart } = value as { vehicle?: object; otherPart?: string }
  const cell: TableRecord['cell'] = (pointer) => record.cell(pointer === '#' ? '#/otherPart' : pointer)
  if ((vehicle === undefined) !== (otherPart === undefined)) return { ...record, cell }
  const [code, more] =
    vehicle === undefined
      ? ['none-of-choice', '']
      : ['more-than-one-of-choice', ', and leave the other empty']
  const detail = `give either make and model of the vehicle or otherPart${more}`
  return { ...record, cell, faults: [...record.faults, { ...cell('#'), line, code, detail }] }
}

export const readFitTable = async (text: string, nextSlice: NextSlice): Promise<TableRecord[]> =>
  (await readRecords(text, FIT_TABLE, nextSlice)).map(withSubject)

export const fitRow = ({ id, version, content }: Shared): string[] =>
  recordCells(id, version, JSON.parse(content), FIT_TABLE)
