import { uuidv7 } from 'uuidv7'
import type { ImportItem, ImportOutcome, SharedAuthor } from '../store/shared.js'
import type { TireSizeInput, TireSizeStore } from '../store/tire-sizes.js'
import { rowImport } from './imports.js'
import { pageOf } from './pages.js'
import type { Session, Unit } from './session.js'
import { refusal, type SharedRow, sameContent, sharedOf, sharedReader } from './shared.js'
import { responseSaver } from './stored-responses.js'

const COLUMNS = `tire_sizes.number, tire_sizes.id, tire_sizes.account_id, accounts.name AS recorded_by,
  tire_sizes.version, tire_sizes.created_at_ms, tire_sizes.changed_at_ms, tire_size_revisions.content`
const FROM = `FROM tire_sizes JOIN accounts ON accounts.id = tire_sizes.account_id
  JOIN tire_size_revisions ON tire_size = tire_sizes.number AND tire_size_revisions.version = tire_sizes.version`

/** How late a change by another process may be seen where the database does not report it at once [ms]. */
const REVISION_MAX_AGE_MS = 1000

interface FiguresRow {
  readonly designation: string
  readonly overall_diameter_m: number
  readonly section_width_m: number | null
  readonly content: string
}

function inputOf({ designation, overall_diameter_m, section_width_m, content }: FiguresRow): TireSizeInput {
  const figures = { designation, overallDiameterM: overall_diameter_m, content }
  return section_width_m === null ? figures : { ...figures, sectionWidthM: section_width_m }
}

export function tireSizeStore(session: Session): TireSizeStore {
  const { nowMs } = session
  const saveResponse = responseSaver(session)
  const live = session.prepare<SharedRow>(
    `SELECT ${COLUMNS} ${FROM} WHERE tire_sizes.id = ? AND deleted_at_ms IS NULL`,
  )
  const byDesignation = session.prepare<SharedRow>(
    `SELECT ${COLUMNS} ${FROM} WHERE designation = ? AND deleted_at_ms IS NULL`,
  )
  const listRows = session.prepare<SharedRow>(
    `SELECT ${COLUMNS} ${FROM} WHERE tire_sizes.number > ? AND deleted_at_ms IS NULL ORDER BY tire_sizes.number LIMIT ?`,
  )
  const figures = session.prepare<FiguresRow>(
    `SELECT designation, overall_diameter_m, section_width_m, tire_size_revisions.content ${FROM}
      WHERE deleted_at_ms IS NULL ORDER BY tire_sizes.number`,
  )
  // Each change adds to the version of a row, and no row is ever removed.
  const versionSum = session.prepare<{ sum: number }>(
    'SELECT CAST(coalesce(sum(version), 0) AS BIGINT) AS sum FROM tire_sizes',
  )
  const known = session.memory<number>({ max: 1, maxAgeMs: REVISION_MAX_AGE_MS, isClearedByOwnWrites: true })
  const ever = session.prepare<{ id: string }>('SELECT id FROM tire_sizes WHERE id = ?')
  const insert = session.prepare(
    `INSERT INTO tire_sizes (id, account_id, version, designation, overall_diameter_m, section_width_m, created_at_ms,
        changed_at_ms)
     VALUES (?, ?, 1, ?, ?, ?, ?, ?)`,
  )
  const update = session.prepare(
    `UPDATE tire_sizes SET version = ?, designation = ?, overall_diameter_m = ?, section_width_m = ?, changed_at_ms = ?
      WHERE number = ?`,
  )
  const markDeleted = session.prepare(
    'UPDATE tire_sizes SET version = ?, changed_at_ms = ?, deleted_at_ms = ? WHERE number = ?',
  )
  const addRevision = session.prepare(
    'INSERT INTO tire_size_revisions (tire_size, version, change, at_ms, key_id, content) VALUES (?, ?, ?, ?, ?, ?)',
  )

  /** Another row that has the designation already. */
  function* holder({ designation }: TireSizeInput, id?: string): Unit<string | undefined> {
    const row = yield* byDesignation.get(designation)
    return row === undefined || row.id === id ? undefined : row.id
  }

  function* add(author: SharedAuthor, input: TireSizeInput, id = uuidv7()): Unit<SharedRow> {
    const atMs = nowMs()
    const { designation, overallDiameterM, sectionWidthM } = input
    const number = yield* insert.insert(
      id,
      author.accountId,
      designation,
      overallDiameterM,
      sectionWidthM ?? null,
      atMs,
      atMs,
    )
    yield* addRevision.run(number, 1, 'created', atMs, author.keyId, input.content)
    return (yield* live.get(id))!
  }

  function* change(author: SharedAuthor, row: SharedRow, input: TireSizeInput): Unit<SharedRow> {
    const version = row.version + 1
    const atMs = nowMs()
    const { designation, overallDiameterM, sectionWidthM } = input
    yield* update.run(version, designation, overallDiameterM, sectionWidthM ?? null, atMs, row.number)
    yield* addRevision.run(row.number, version, 'replaced', atMs, author.keyId, input.content)
    return (yield* live.get(row.id))!
  }

  function* importOne(
    author: SharedAuthor,
    { id, version, input }: ImportItem<TireSizeInput>,
  ): Unit<ImportOutcome> {
    const row = id === undefined ? undefined : yield* live.get(id)
    if (row !== undefined && sameContent(row.content, input.content))
      return { outcome: 'unchanged', id: row.id }
    const taken = yield* holder(input, id)
    if (taken !== undefined) return { outcome: 'taken', id: taken }
    if (row === undefined) {
      if (id !== undefined && (yield* ever.get(id)) !== undefined) return { outcome: 'deleted' }
      return { outcome: 'created', id: (yield* add(author, input, id)).id }
    }
    if (version === undefined) return { outcome: 'exists', id: row.id }
    const refused = refusal(row, author, [version])
    if (refused !== undefined && refused.outcome !== 'absent') return refused
    yield* change(author, row, input)
    return { outcome: 'replaced', id: row.id }
  }

  return {
    create: session.write(function* (author, input, save) {
      const taken = yield* holder(input)
      if (taken !== undefined) return { outcome: 'taken' as const, id: taken }
      const tireSize = sharedOf(yield* add(author, input))
      yield* saveResponse(author.accountId, save, tireSize)
      return { outcome: 'created' as const, tireSize }
    }),

    read: sharedReader(session, live),

    list: session.read(function* ({ designation }, page) {
      const after = page.after === undefined ? 0 : Number(page.after)
      if (designation === undefined)
        return pageOf(yield* listRows.all(after, page.limit + 1), page, sharedOf, ({ number }) =>
          String(number),
        )
      const row = yield* byDesignation.get(designation)
      return { items: row === undefined ? [] : [sharedOf(row)] }
    }),

    revision: session.read(() =>
      known.get('revision', function* () {
        return (yield* versionSum.get())!.sum
      }),
    ),

    figures: session.read(function* () {
      return (yield* figures.all()).map(inputOf)
    }),

    replace: session.write(function* (author, id, versions, input) {
      const row = yield* live.get(id)
      const refused = refusal(row, author, versions)
      if (refused !== undefined) return refused
      const taken = yield* holder(input, id)
      if (taken !== undefined) return { outcome: 'taken' as const, id: taken }
      return { outcome: 'replaced' as const, tireSize: sharedOf(yield* change(author, row!, input)) }
    }),

    remove: session.write(function* (author, id, versions) {
      const row = yield* live.get(id)
      const refused = refusal(row, author, versions)
      if (refused !== undefined) return refused
      const { number, version } = row!
      const atMs = nowMs()
      yield* markDeleted.run(version + 1, atMs, atMs, number)
      yield* addRevision.run(number, version + 1, 'deleted', atMs, author.keyId, null)
      return { outcome: 'removed' as const }
    }),

    import: rowImport(session, importOne),
  }
}
