import { uuidv7 } from 'uuidv7'
import type { ImportItem, ImportOutcome, SharedAuthor } from '../store/shared.js'
import type { TireSizeInput, TireSizeStore } from '../store/tire-sizes.js'
import { rowImport } from './imports.js'
import { pageOf } from './pages.js'
import type { Session } from './session.js'
import { refusal, type SharedRow, sameContent, sharedOf, sharedReader } from './shared.js'
import { responseSaver } from './stored-responses.js'

const COLUMNS = `tire_sizes.number, tire_sizes.id, tire_sizes.account_id, accounts.name AS recorded_by,
  tire_sizes.version, tire_sizes.created_at_ms, tire_sizes.changed_at_ms, tire_size_revisions.content`
const FROM = `FROM tire_sizes JOIN accounts ON accounts.id = tire_sizes.account_id
  JOIN tire_size_revisions ON tire_size = tire_sizes.number AND tire_size_revisions.version = tire_sizes.version`

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

export function sqliteTireSizes(session: Session): TireSizeStore {
  const { db, nowMs } = session
  const saveResponse = responseSaver(session)
  const live = db.prepare<[string], SharedRow>(
    `SELECT ${COLUMNS} ${FROM} WHERE tire_sizes.id = ? AND deleted_at_ms IS NULL`,
  )
  const byDesignation = db.prepare<[string], SharedRow>(
    `SELECT ${COLUMNS} ${FROM} WHERE designation = ? AND deleted_at_ms IS NULL`,
  )
  const listRows = db.prepare<[number, number], SharedRow>(
    `SELECT ${COLUMNS} ${FROM} WHERE tire_sizes.number > ? AND deleted_at_ms IS NULL ORDER BY tire_sizes.number LIMIT ?`,
  )
  const figures = db.prepare<[], FiguresRow>(
    `SELECT designation, overall_diameter_m, section_width_m, tire_size_revisions.content ${FROM}
      WHERE deleted_at_ms IS NULL`,
  )
  // Rows are only added to this table, one for each change.
  const revisions = db.prepare<[], number | null>('SELECT max(rowid) FROM tire_size_revisions').pluck()
  const ever = db.prepare<[string], number>('SELECT 1 FROM tire_sizes WHERE id = ?').pluck()
  const insert = db.prepare(
    `INSERT INTO tire_sizes (id, account_id, version, designation, overall_diameter_m, section_width_m, created_at_ms,
        changed_at_ms)
     VALUES (?, ?, 1, ?, ?, ?, ?, ?)`,
  )
  const update = db.prepare(
    `UPDATE tire_sizes SET version = ?, designation = ?, overall_diameter_m = ?, section_width_m = ?, changed_at_ms = ?
      WHERE number = ?`,
  )
  const markDeleted = db.prepare(
    'UPDATE tire_sizes SET version = ?, changed_at_ms = ?, deleted_at_ms = ? WHERE number = ?',
  )
  const addRevision = db.prepare(
    'INSERT INTO tire_size_revisions (tire_size, version, change, at_ms, key_id, content) VALUES (?, ?, ?, ?, ?, ?)',
  )

  /** Another row that has the designation already. */
  function holder({ designation }: TireSizeInput, id?: string): string | undefined {
    const row = byDesignation.get(designation)
    return row === undefined || row.id === id ? undefined : row.id
  }

  function add(author: SharedAuthor, input: TireSizeInput, id = uuidv7()): SharedRow {
    const atMs = nowMs()
    const { designation, overallDiameterM, sectionWidthM } = input
    const { lastInsertRowid } = insert.run(
      id,
      author.accountId,
      designation,
      overallDiameterM,
      sectionWidthM ?? null,
      atMs,
      atMs,
    )
    addRevision.run(lastInsertRowid, 1, 'created', atMs, author.keyId, input.content)
    return live.get(id)!
  }

  function change(author: SharedAuthor, row: SharedRow, input: TireSizeInput): SharedRow {
    const version = row.version + 1
    const atMs = nowMs()
    const { designation, overallDiameterM, sectionWidthM } = input
    update.run(version, designation, overallDiameterM, sectionWidthM ?? null, atMs, row.number)
    addRevision.run(row.number, version, 'replaced', atMs, author.keyId, input.content)
    return live.get(row.id)!
  }

  function importOne(author: SharedAuthor, { id, version, input }: ImportItem<TireSizeInput>): ImportOutcome {
    const row = id === undefined ? undefined : live.get(id)
    if (row !== undefined && sameContent(row.content, input.content))
      return { outcome: 'unchanged', id: row.id }
    const taken = holder(input, id)
    if (taken !== undefined) return { outcome: 'taken', id: taken }
    if (row === undefined) {
      if (id !== undefined && ever.get(id) !== undefined) return { outcome: 'deleted' }
      return { outcome: 'created', id: add(author, input, id).id }
    }
    if (version === undefined) return { outcome: 'exists', id: row.id }
    const refused = refusal(row, author, [version])
    if (refused !== undefined && refused.outcome !== 'absent') return refused
    change(author, row, input)
    return { outcome: 'replaced', id: row.id }
  }

  return {
    create: (author, input, save) =>
      session.write(() => {
        const taken = holder(input)
        if (taken !== undefined) return { outcome: 'taken' as const, id: taken }
        const tireSize = sharedOf(add(author, input))
        saveResponse(author.accountId, save, tireSize)
        return { outcome: 'created' as const, tireSize }
      }),

    read: sharedReader(session, live),

    list: ({ designation }, page) =>
      session.read(() => {
        const after = page.after === undefined ? 0 : Number(page.after)
        if (designation === undefined)
          return pageOf(listRows.all(after, page.limit + 1), page, sharedOf, ({ number }) => String(number))
        const row = byDesignation.get(designation)
        return { items: row === undefined ? [] : [sharedOf(row)] }
      }),

    revision: () => session.read(() => revisions.get() ?? 0),

    figures: () => session.read(() => figures.all().map(inputOf)),

    replace: (author, id, versions, input) =>
      session.write(() => {
        const row = live.get(id)
        const refused = refusal(row, author, versions)
        if (refused !== undefined) return refused
        const taken = holder(input, id)
        if (taken !== undefined) return { outcome: 'taken' as const, id: taken }
        return { outcome: 'replaced' as const, tireSize: sharedOf(change(author, row!, input)) }
      }),

    remove: (author, id, versions) =>
      session.write(() => {
        const row = live.get(id)
        const refused = refusal(row, author, versions)
        if (refused !== undefined) return refused
        const { number, version } = row!
        const atMs = nowMs()
        markDeleted.run(version + 1, atMs, atMs, number)
        addRevision.run(number, version + 1, 'deleted', atMs, author.keyId, null)
        return { outcome: 'removed' as const }
      }),

    import: rowImport(session, importOne),
  }
}
