import type { Static } from '@sinclair/typebox'
import type { FitGroup, FitInput, Page, PartFits, Shared } from '../db/store.js'
import { DomainError } from '../domain/errors.js'
import { supportOf } from '../domain/fits/support.js'
import { summaryOf } from '../domain/parts/part.js'
import type { FitSearchAnswer, FitShape, SavedFit } from '../schemas/fits.js'
import { type Column, column } from './csv.js'
import { reportOf, storedFitOf } from './fit-reports.js'
import { provenance } from './provenance.js'
import { sharedText } from './shared.js'
import { readRecords, recordCells, type TableRecord } from './tables.js'

/** Default author and date of a fit report. */
export interface ReportDefaults {
  readonly author: string
  /** Day of the request, YYYY-MM-DD in UTC. */
  readonly today: string
}

/** The next day in UTC: the latest local date anywhere. */
const dayAhead = (today: string) => new Date(Date.parse(today) + 86_400_000).toISOString().slice(0, 10)

/**
 * A fit report for the store, with its author and date.
 *
 * @throws {DomainError} `years-crossed`, `fit-with-itself`, `date-in-the-future`
 */
export function fitInput(wire: FitShape, { author, today }: ReportDefaults): FitInput {
  const { date = today } = wire
  if (date > dayAhead(today)) {
    throw new DomainError('date-in-the-future', `date: expected ${today} or earlier, got ${date}`, {
      pointer: '/date',
    })
  }
  const content = JSON.stringify({ ...wire, author: wire.author ?? author, date })
  if ('otherPart' in wire) {
    if (wire.otherPart === wire.part) {
      throw new DomainError('fit-with-itself', 'otherPart: expected another part than part', {
        pointer: '/otherPart',
      })
    }
    return { part: wire.part, about: { otherPart: wire.otherPart }, content }
  }
  const { make, model, yearFrom, yearTo } = wire.vehicle
  if (yearFrom !== undefined && yearTo !== undefined && yearFrom > yearTo) {
    throw new DomainError('years-crossed', `yearFrom: expected ${yearTo} or earlier, got ${yearFrom}`, {
      pointer: '/vehicle/yearFrom',
    })
  }
  return {
    part: wire.part,
    about: {
      make,
      model,
      ...(yearFrom === undefined ? {} : { yearFrom }),
      ...(yearTo === undefined ? {} : { yearTo }),
    },
    content,
  }
}

/** A fit report names a part that is not in the store. */
export function partUnknown(outcome: 'part-absent' | 'other-part-absent'): DomainError {
  const field = outcome === 'part-absent' ? 'part' : 'otherPart'
  return new DomainError('recorded-part-unknown', `${field}: there is no part of this id`, {
    pointer: `/${field}`,
  })
}

type GroupShape = Static<typeof FitSearchAnswer>['parts'][number]['fits'][number]

const MAX_REPORTS = 200
const MAX_GROUPS = 200

function groupOut({ otherPart, reports }: FitGroup): GroupShape {
  const group: GroupShape = {
    ...supportOf(reports.map(reportOf)),
    reports: reports.slice(0, MAX_REPORTS).map((fit): Static<typeof SavedFit> => JSON.parse(sharedText(fit))),
    reportCount: reports.length,
  }
  if (otherPart !== undefined)
    group.otherPart = summaryOf({ ...JSON.parse(otherPart.content), id: otherPart.id })
  const first = storedFitOf(reports[0]!)
  if ('vehicle' in first) group.vehicle = { make: first.vehicle.make, model: first.vehicle.model }
  return group
}

/** The answer of `GET /v1/fits`. */
export function fitSearchOut(
  { items }: Page<PartFits>,
  next: string | undefined,
): Static<typeof FitSearchAnswer> {
  const parts = items.map(({ part, groups }) => ({
    part: summaryOf({ ...JSON.parse(part.content), id: part.id }),
    fits: groups
      .map(groupOut)
      .sort((a, b) => b.support - a.support)
      .slice(0, MAX_GROUPS),
  }))
  const best = ({ fits }: { fits: GroupShape[] }) => fits[0]!.support
  const contradicted = parts.some(({ fits }) => fits.some(({ agreement }) => agreement === 'contradict'))
  const out: Static<typeof FitSearchAnswer> = {
    parts: parts.sort((a, b) => best(b) - best(a)),
    ...provenance({
      sources: ['stored-fit', 'rule-of-succession', 'evidence-weights'],
      notes: contradicted ? [CONTRADICTED] : [],
    }),
  }
  if (next !== undefined) out.next = next
  return out
}

const CONTRADICTED = {
  code: 'reports-contradict',
  level: 'caution',
  text: 'Some fit reports contradict each other: read what each says about variant, years and work before you buy or fit the part.',
} as const

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

export const readFitTable = (text: string): TableRecord[] => readRecords(text, FIT_TABLE).map(withSubject)

export const fitRow = (fit: Shared): string[] => recordCells(fit.id, fit.version, storedFitOf(fit), FIT_TABLE)
