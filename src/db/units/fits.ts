import { uuidv7 } from 'uuidv7'
import type { Page } from '../store/common.js'
import type { Fit, FitCreated, FitFilter, FitGroup, FitInput, FitStore, PartFits } from '../store/fits.js'
import type { ImportItem, ImportOutcome, SharedAuthor } from '../store/shared.js'
import { fold } from './fold.js'
import { rowImport } from './imports.js'
import { pageOf } from './pages.js'
import { preparer } from './prepared.js'
import type { Session, Unit } from './session.js'
import { refusal, type SharedRow, sameContent, sharedOf, sharedReader } from './shared.js'
import { responseSaver } from './stored-responses.js'

// A report is never changed: its version is 1.
export const FIT_COLUMNS = `fits.number, fits.id, fits.account_id, accounts.name AS recorded_by, 1 AS version,
  fits.created_at_ms, fits.created_at_ms AS changed_at_ms, fits.content`
export const FROM_FITS = 'FROM fits JOIN accounts ON accounts.id = fits.account_id'

interface ReportRow extends SharedRow {
  readonly make_key: string | null
  readonly model_key: string | null
  readonly other_part: number | null
}

interface PartRow {
  readonly id: string
  readonly kind: string
}

/** The conditions of a search, except for the part. */
function conditions({ make, model, year, kind }: FitFilter): string {
  const where = ['fits.deleted_at_ms IS NULL']
  if (make !== undefined) where.push('fits.make_key = :make')
  if (model !== undefined) where.push('fits.model_key = :model')
  if (kind !== undefined) where.push('fits.part_kind = :kind')
  if (year !== undefined) {
    where.push('(fits.year_from IS NULL OR fits.year_from <= :year)')
    where.push('(fits.year_to IS NULL OR fits.year_to >= :year)')
    where.push('fits.make_key IS NOT NULL')
  }
  return where.join(' AND ')
}

/** The parts of one page of a search, read from an index in the order of the parts. */
export function fitPartsSql(filter: FitFilter): string {
  const parts = `SELECT DISTINCT fits.part FROM fits WHERE ${conditions(filter)} AND fits.part > :after`
  const order = 'ORDER BY part LIMIT :limit'
  if (filter.part === undefined) return `${parts} ${order}`
  // Two queries, one for each side of a report: with OR, SQLite would scan all reports.
  return `${parts} AND fits.part = :part UNION ${parts} AND fits.other_part = :part ${order}`
}

/** The reports about one part of a search. */
export function fitReportsSql(filter: FitFilter): string {
  const side = filter.part === undefined ? '' : ' AND (fits.part = :part OR fits.other_part = :part)'
  return `SELECT ${FIT_COLUMNS}, fits.make_key, fits.model_key, fits.other_part ${FROM_FITS} WHERE fits.part = :about AND ${conditions(filter)}${side} ORDER BY fits.number`
}

export function fitStore(session: Session): FitStore {
  const { nowMs } = session
  const saveResponse = responseSaver(session)
  const partsOfSearch = preparer<{ part: number }>(session)
  const reportsOfSearch = preparer<ReportRow>(session)
  const live = session.prepare<SharedRow>(
    `SELECT ${FIT_COLUMNS} ${FROM_FITS} WHERE fits.id = ? AND fits.deleted_at_ms IS NULL`,
  )
  const listRows = session.prepare<SharedRow>(
    `SELECT ${FIT_COLUMNS} ${FROM_FITS} WHERE fits.number > ? AND fits.deleted_at_ms IS NULL ORDER BY fits.number LIMIT ?`,
  )
  const ever = session.prepare<{ id: string }>('SELECT id FROM fits WHERE id = ?')
  const partOf = session.prepare<PartRow & { number: number }>(
    'SELECT number, id, kind FROM parts WHERE id = ? AND deleted_at_ms IS NULL',
  )
  const partByNumber = session.prepare<SharedRow>(
    `SELECT parts.number, parts.id, parts.account_id, accounts.name AS recorded_by, parts.version,
        parts.created_at_ms, parts.changed_at_ms, part_revisions.content
      FROM parts JOIN accounts ON accounts.id = parts.account_id
      JOIN part_revisions ON part_revisions.part = parts.number AND part_revisions.version = parts.version
      WHERE parts.number = ?`,
  )
  const insert = session.prepare(
    `INSERT INTO fits (id, account_id, key_id, part, part_kind, other_part, make_key, model_key, year_from, year_to,
        content, created_at_ms)
     VALUES (:id, :account, :key, :part, :kind, :other, :make, :model, :from, :to, :content, :atMs)`,
  )
  // A report depends on its parts: a change of one at the same time must find the report, so one of the two runs again.
  const claimPart = session.prepare('UPDATE parts SET account_id = account_id WHERE number = ?')
  const markDeleted = session.prepare('UPDATE fits SET deleted_at_ms = ?, deleted_key_id = ? WHERE id = ?')

  function* add(
    author: SharedAuthor,
    { part, about, content }: FitInput,
    id = uuidv7(),
  ): Unit<'part-absent' | 'other-part-absent' | { id: string }> {
    const row = yield* partOf.get(part)
    if (row === undefined) return 'part-absent'
    const other = 'otherPart' in about ? yield* partOf.get(about.otherPart) : undefined
    if ('otherPart' in about && other === undefined) return 'other-part-absent'
    yield* claimPart.run(row.number)
    if (other !== undefined) yield* claimPart.run(other.number)
    const vehicle = 'otherPart' in about ? undefined : about
    yield* insert.run({
      id,
      account: author.accountId,
      key: author.keyId,
      part: row.number,
      kind: row.kind,
      other: other?.number ?? null,
      make: fold(vehicle?.make),
      model: fold(vehicle?.model),
      from: vehicle?.yearFrom ?? null,
      to: vehicle?.yearTo ?? null,
      content,
      atMs: nowMs(),
    })
    return { id }
  }

  function* importOne(author: SharedAuthor, { id, input }: ImportItem<FitInput>): Unit<ImportOutcome> {
    if (id !== undefined) {
      const row = yield* live.get(id)
      if (row !== undefined)
        return { outcome: sameContent(row.content, input.content) ? 'unchanged' : 'exists', id }
      if ((yield* ever.get(id)) !== undefined) return { outcome: 'deleted' }
    }
    const added = yield* add(author, input, id)
    return typeof added === 'string' ? { outcome: added } : { outcome: 'created', id: added.id }
  }

  /** Parameters for the conditions of a search; undefined if it names a part that does not exist. */
  function* bindings({
    make,
    model,
    year,
    kind,
    part,
  }: FitFilter): Unit<Record<string, string | number> | undefined> {
    const bound: Record<string, string | number> = {}
    if (make !== undefined) bound.make = fold(make)!
    if (model !== undefined) bound.model = fold(model)!
    if (year !== undefined) bound.year = year
    if (kind !== undefined) bound.kind = kind
    if (part !== undefined) {
      const row = yield* partOf.get(part)
      if (row === undefined) return undefined
      bound.part = row.number
    }
    return bound
  }

  /** Reports grouped by vehicle or other part, in the order of the first report about each. */
  function* grouped(rows: readonly ReportRow[]): Unit<FitGroup[]> {
    const groups = new Map<string, ReportRow[]>()
    for (const row of rows) {
      const about =
        row.other_part === null ? JSON.stringify([row.make_key, row.model_key]) : String(row.other_part)
      const group = groups.get(about)
      if (group === undefined) groups.set(about, [row])
      else group.push(row)
    }
    const found: FitGroup[] = []
    for (const group of groups.values()) {
      const other = group[0]!.other_part
      const reports = group.map(sharedOf)
      found.push(
        other === null ? { reports } : { otherPart: sharedOf((yield* partByNumber.get(other))!), reports },
      )
    }
    return found
  }

  return {
    create: session.write(function* (author, input, save): Unit<FitCreated> {
      const added = yield* add(author, input)
      if (typeof added === 'string') return { outcome: added }
      const fit: Fit = sharedOf((yield* live.get(added.id))!)
      yield* saveResponse(author.accountId, save, fit)
      return { outcome: 'created', fit }
    }),

    read: sharedReader(session, live),

    search: session.snapshot(function* (filter, page): Unit<Page<PartFits>> {
      const bound = yield* bindings(filter)
      if (bound === undefined) return { items: [] }
      const after = page.after === undefined ? 0 : Number(page.after)
      const rows = yield* partsOfSearch(fitPartsSql(filter)).all({ ...bound, after, limit: page.limit + 1 })
      const numbers = pageOf(
        rows,
        page,
        ({ part }) => part,
        ({ part }) => String(part),
      )
      const about = reportsOfSearch(fitReportsSql(filter))
      const items: PartFits[] = []
      for (const number of numbers.items) {
        const part = sharedOf((yield* partByNumber.get(number))!)
        items.push({ part, groups: yield* grouped(yield* about.all({ ...bound, about: number })) })
      }
      return { ...numbers, items }
    }),

    list: session.read(function* (page) {
      const after = page.after === undefined ? 0 : Number(page.after)
      return pageOf(yield* listRows.all(after, page.limit + 1), page, sharedOf, ({ number }) =>
        String(number),
      )
    }),

    remove: session.write(function* (author, id, versions) {
      const refused = refusal(yield* live.get(id), author, versions)
      if (refused !== undefined) return refused
      yield* markDeleted.run(nowMs(), author.keyId, id)
      return { outcome: 'removed' as const }
    }),

    import: rowImport(session, importOne),
  }
}
