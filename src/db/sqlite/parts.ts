import { uuidv7 } from 'uuidv7'
import type { InterfaceProbe } from '../../domain/parts/mating.js'
import type { PageRequest } from '../store/common.js'
import type { Part, PartFilter, PartInput, PartRevision, PartStore, RemedyPart } from '../store/parts.js'
import type { ImportItem, ImportOutcome, SharedAuthor } from '../store/shared.js'
import { FIT_COLUMNS, FROM_FITS } from './fits.js'
import { fold } from './fold.js'
import { rowImport } from './imports.js'
import { pageOf } from './pages.js'
import { preparer } from './prepared.js'
import type { Session } from './session.js'
import { refusal, type SharedRow, sameContent, sharedOf, sharedReader } from './shared.js'
import { responseSaver } from './stored-responses.js'

const COLUMNS = `parts.number, parts.id, parts.account_id, accounts.name AS recorded_by, parts.version,
  parts.created_at_ms, parts.changed_at_ms, part_revisions.content`
const DETAILS = `JOIN accounts ON accounts.id = parts.account_id
  JOIN part_revisions ON part_revisions.part = parts.number AND part_revisions.version = parts.version`

interface RevisionRow {
  readonly version: number
  readonly change: PartRevision['change']
  readonly at_ms: number
  readonly changed_by: string
  readonly content: string | null
}

/** A row of a list, with the dimension by which the list is ordered, if any. */
interface ListRow extends SharedRow {
  readonly primary_m: number | null
}

/**
 * Each word as a quoted phrase for the full-text index, so that user input is not parsed as query syntax. Text without a word
 * becomes an empty phrase, which matches nothing; an empty query would be a syntax error.
 */
const phrases = (text: string) =>
  text
    .split(/\s+/)
    .filter((word) => word !== '')
    .map((word) => `"${word.replaceAll('"', '""')}"`)
    .join(' ') || '""'

/**
 * The SQL of a list for the given filters. It reads the index that gives the order, starting at the position of the page,
 * so the cost of a page does not depend on the size of the table.
 */
export function partListSql(filter: PartFilter): string {
  const where = ['parts.deleted_at_ms IS NULL']
  if (filter.kind !== undefined) where.push('parts.kind = :kind')
  if (filter.maker !== undefined) where.push('parts.maker_key = :maker')
  if (filter.interface !== undefined) {
    if (filter.text !== undefined) {
      where.push(
        'EXISTS (SELECT 1 FROM part_texts WHERE part_texts MATCH :text AND part_texts.rowid = meeting.part)',
      )
    }
    // A part with several interfaces in the range is listed once, at the first. The unary plus keeps this subquery off the
    // index by key, where it would scan all other parts as well.
    return `SELECT ${COLUMNS}, meeting.primary_m FROM part_interfaces AS meeting
      CROSS JOIN parts ON parts.number = meeting.part ${DETAILS}
      WHERE meeting.key = :key AND meeting.secondary_m = 0 AND meeting.primary_m <= :maxM
        AND (meeting.primary_m, meeting.part) > (:afterM, :after) AND ${where.join(' AND ')}
        AND NOT EXISTS (SELECT 1 FROM part_interfaces AS earlier
          WHERE earlier.part = meeting.part AND +earlier.key = meeting.key AND earlier.primary_m >= :minM
            AND (earlier.primary_m, earlier.position) < (meeting.primary_m, meeting.position))
      ORDER BY meeting.primary_m, meeting.part LIMIT :limit`
  }
  if (filter.text !== undefined) {
    return `SELECT ${COLUMNS}, NULL AS primary_m FROM part_texts
      CROSS JOIN parts ON parts.number = part_texts.rowid ${DETAILS}
      WHERE part_texts MATCH :text AND part_texts.rowid > :after AND ${where.join(' AND ')}
      ORDER BY part_texts.rowid LIMIT :limit`
  }
  return `SELECT ${COLUMNS}, NULL AS primary_m FROM parts ${DETAILS}
    WHERE ${where.join(' AND ')} AND parts.number > :after ORDER BY parts.number LIMIT :limit`
}

/** Interfaces upward from a dimension, the nearest first; `DOWN` likewise downward. */
export const NEAR_UP_SQL = `SELECT part, primary_m FROM part_interfaces
  WHERE key = ? AND secondary_m = ? AND primary_m >= ? AND primary_m <= ? ORDER BY primary_m, part LIMIT ?`
export const NEAR_DOWN_SQL = `SELECT part, primary_m FROM part_interfaces
  WHERE key = ? AND secondary_m = ? AND primary_m < ? AND primary_m >= ? ORDER BY primary_m DESC, part DESC LIMIT ?`
export const NEXT_SECONDARY_SQL =
  'SELECT min(secondary_m) FROM part_interfaces WHERE key = ? AND secondary_m >= ? AND secondary_m <= ?'

/** Parts of a kind named in reports about a make and model. */
export const REPORTED_ON_SQL = `SELECT DISTINCT part FROM fits
  WHERE make_key = ? AND model_key = ? AND part_kind = ? AND deleted_at_ms IS NULL ORDER BY part LIMIT ?`

/** Most vehicles in the cache of remedies. */
const MAX_FOUND = 500

/** Most secondary dimensions per probe: only few pitches lie within a tolerance. */
const MAX_SECONDARIES = 64

interface Hit {
  readonly part: number
  readonly distanceM: number
}

/** Finds interfaces near a probe, nearest first, by walking the index outward from its dimension. */
function prober({ db }: Session) {
  const up = db.prepare<[string, number, number, number, number], { part: number; primary_m: number }>(
    NEAR_UP_SQL,
  )
  const down = db.prepare<[string, number, number, number, number], { part: number; primary_m: number }>(
    NEAR_DOWN_SQL,
  )
  const next = db.prepare<[string, number, number], number | null>(NEXT_SECONDARY_SQL).pluck()
  return (probe: InterfaceProbe, max: number): Hit[] => {
    const { key, primaryM, primaryToleranceM } = probe
    const hits: Hit[] = []
    const last = probe.secondaryM + probe.secondaryToleranceM
    let from = probe.secondaryM - probe.secondaryToleranceM
    for (let steps = 0; steps < MAX_SECONDARIES; steps++) {
      const secondaryM = next.get(key, from, last)
      if (secondaryM === null || secondaryM === undefined) break
      for (const row of [
        ...up.all(key, secondaryM, primaryM, primaryM + primaryToleranceM, max),
        ...down.all(key, secondaryM, primaryM, primaryM - primaryToleranceM, max),
      ]) {
        hits.push({ part: row.part, distanceM: Math.abs(row.primary_m - primaryM) })
      }
      // Skips to the next value: pitches are of the order of a millimeter, so a femtometer more excludes only this one.
      from = secondaryM + 1e-15
    }
    return hits
  }
}

export function sqliteParts(session: Session): PartStore {
  const { db, nowMs } = session
  const saveResponse = responseSaver(session)
  const probe = prober(session)
  const listing = preparer<ListRow>(session)
  const live = db.prepare<[string], SharedRow>(
    `SELECT ${COLUMNS} FROM parts ${DETAILS} WHERE parts.id = ? AND parts.deleted_at_ms IS NULL`,
  )
  const byNumber = db.prepare<[number], SharedRow>(
    `SELECT ${COLUMNS} FROM parts ${DETAILS} WHERE parts.number = ? AND parts.deleted_at_ms IS NULL`,
  )
  const newestOfKind = db.prepare<[string, number], SharedRow>(
    `SELECT ${COLUMNS} FROM parts ${DETAILS} WHERE parts.kind = ? AND parts.deleted_at_ms IS NULL
      ORDER BY parts.number DESC LIMIT ?`,
  )
  const reportedOn = db.prepare<[string, string, string, number], number>(REPORTED_ON_SQL).pluck()
  const reportsOf = db.prepare<[number, string, string], SharedRow>(
    `SELECT ${FIT_COLUMNS} ${FROM_FITS}
      WHERE fits.part = ? AND fits.make_key = ? AND fits.model_key = ? AND fits.deleted_at_ms IS NULL ORDER BY fits.number`,
  )
  const numberOf = db.prepare<[string], number>('SELECT number FROM parts WHERE id = ?').pluck()
  const accountName = db.prepare<[string], string>('SELECT name FROM accounts WHERE id = ?').pluck()
  const insert = db.prepare(
    `INSERT INTO parts (id, account_id, version, kind, maker_key, created_at_ms, changed_at_ms)
     VALUES (?, ?, 1, ?, ?, ?, ?)`,
  )
  const update = db.prepare(
    'UPDATE parts SET version = ?, kind = ?, maker_key = ?, changed_at_ms = ? WHERE number = ?',
  )
  const updateFits = db.prepare('UPDATE fits SET part_kind = ? WHERE part = ? AND part_kind <> ?')
  const markDeleted = db.prepare(
    'UPDATE parts SET version = ?, changed_at_ms = ?, deleted_at_ms = ? WHERE number = ?',
  )
  const addRevision = db.prepare(
    'INSERT INTO part_revisions (part, version, change, at_ms, key_id, content) VALUES (?, ?, ?, ?, ?, ?)',
  )
  const addInterface = db.prepare(
    'INSERT INTO part_interfaces (part, position, key, primary_m, secondary_m) VALUES (?, ?, ?, ?, ?)',
  )
  const dropInterfaces = db.prepare('DELETE FROM part_interfaces WHERE part = ?')
  const addTexts = db.prepare(
    'INSERT INTO part_texts (rowid, name, maker, number, notes) VALUES (?, ?, ?, ?, ?)',
  )
  const dropTexts = db.prepare('DELETE FROM part_texts WHERE rowid = ?')
  const reportsAbout = db
    .prepare<[number, number], number>(
      `SELECT (SELECT count(*) FROM fits WHERE part = ? AND deleted_at_ms IS NULL)
            + (SELECT count(*) FROM fits WHERE other_part = ? AND deleted_at_ms IS NULL)`,
    )
    .pluck()
  const revisionRows = db.prepare<[number, number, number], RevisionRow>(
    `SELECT part_revisions.version, change, at_ms, accounts.name AS changed_by, content FROM part_revisions
      JOIN keys ON keys.id = key_id JOIN accounts ON accounts.id = keys.account_id
      WHERE part = ? AND part_revisions.version < ? ORDER BY part_revisions.version DESC LIMIT ?`,
  )

  /** Index entries of a part: its interfaces and words. */
  function index(number: number, { name, maker, number: partNumber, notes, interfaces }: PartInput): void {
    for (const [position, { key, primaryM, secondaryM }] of interfaces.entries()) {
      addInterface.run(number, position, key, primaryM, secondaryM)
    }
    addTexts.run(number, name, maker ?? '', partNumber ?? '', notes ?? '')
  }

  function unindex(number: number): void {
    dropInterfaces.run(number)
    dropTexts.run(number)
  }

  function add(author: SharedAuthor, input: PartInput, id = uuidv7()): Part {
    const atMs = nowMs()
    const { lastInsertRowid } = insert.run(id, author.accountId, input.kind, fold(input.maker), atMs, atMs)
    const number = Number(lastInsertRowid)
    addRevision.run(number, 1, 'created', atMs, author.keyId, input.content)
    index(number, input)
    return {
      id,
      version: 1,
      recordedBy: accountName.get(author.accountId)!,
      createdAtMs: atMs,
      changedAtMs: atMs,
      content: input.content,
    }
  }

  function change(author: SharedAuthor, row: SharedRow, input: PartInput): Part {
    const version = row.version + 1
    const atMs = nowMs()
    update.run(version, input.kind, fold(input.maker), atMs, row.number)
    updateFits.run(input.kind, row.number, input.kind)
    addRevision.run(row.number, version, 'replaced', atMs, author.keyId, input.content)
    unindex(row.number)
    index(row.number, input)
    return { ...sharedOf(row), version, changedAtMs: atMs, content: input.content }
  }

  function importOne(author: SharedAuthor, { id, version, input }: ImportItem<PartInput>): ImportOutcome {
    if (id === undefined) return { outcome: 'created', id: add(author, input).id }
    const row = live.get(id)
    if (row === undefined) {
      if (numberOf.get(id) !== undefined) return { outcome: 'deleted' }
      return { outcome: 'created', id: add(author, input, id).id }
    }
    if (sameContent(row.content, input.content)) return { outcome: 'unchanged', id }
    if (version === undefined) return { outcome: 'exists', id }
    const refused = refusal(row, author, [version])
    if (refused !== undefined && refused.outcome !== 'absent') return refused
    change(author, row, input)
    return { outcome: 'replaced', id }
  }

  const found = new Map<string, readonly RemedyPart[]>()
  let foundAtState: string | undefined

  function remediesOf(kind: string, make: string, model: string, max: number): RemedyPart[] {
    const stated = reportedOn.all(make, model, kind, max)
    const others = newestOfKind.all(kind, max).filter(({ number }) => !stated.includes(number))
    const remedies: RemedyPart[] = stated.map((number) => ({
      part: sharedOf(byNumber.get(number)!),
      reports: reportsOf.all(number, make, model).map(sharedOf),
    }))
    for (const row of others.slice(0, max - stated.length)) {
      remedies.push({ part: sharedOf(row), reports: [] })
    }
    return remedies
  }

  return {
    create: (author, input, save) =>
      session.write(() => {
        const part = add(author, input)
        saveResponse(author.accountId, save, part)
        return part
      }),

    read: sharedReader(session, live),

    list: (filter, page) =>
      session.read(() => {
        const rows = listing(partListSql(filter)).all({
          ...position(filter, page),
          ...(filter.kind === undefined ? {} : { kind: filter.kind }),
          ...(filter.maker === undefined ? {} : { maker: fold(filter.maker) }),
          ...(filter.text === undefined ? {} : { text: phrases(filter.text) }),
          limit: page.limit + 1,
        })
        return pageOf(rows, page, sharedOf, (row) =>
          row.primary_m === null ? String(row.number) : `${row.primary_m}/${row.number}`,
        )
      }),

    replace: (author, id, versions, edit) =>
      session.write(() => {
        const row = live.get(id)
        const refused = refusal(row, author, versions)
        if (refused !== undefined) return refused
        return { outcome: 'replaced' as const, part: change(author, row!, edit(sharedOf(row!))) }
      }),

    remove: (author, id, versions) =>
      session.write(() => {
        const row = live.get(id)
        const refused = refusal(row, author, versions)
        if (refused !== undefined) return refused
        const { number, version } = row!
        const reports = reportsAbout.get(number, number)!
        if (reports > 0) return { outcome: 'in-use' as const, reports }
        const atMs = nowMs()
        markDeleted.run(version + 1, atMs, atMs, number)
        addRevision.run(number, version + 1, 'deleted', atMs, author.keyId, null)
        unindex(number)
        return { outcome: 'removed' as const }
      }),

    revisions: (id, page) =>
      session.read(() => {
        const number = numberOf.get(id)
        if (number === undefined) return undefined
        const before = page.after === undefined ? Number.MAX_SAFE_INTEGER : Number(page.after)
        const rows = revisionRows.all(number, before, page.limit + 1)
        return pageOf(rows, page, revisionOf, ({ version }) => String(version))
      }),

    import: rowImport(session, importOne),

    near: (id, probes, max) =>
      session.read(() => {
        const self = numberOf.get(id)
        const found = new Set<number>()
        let complete = true
        for (const one of probes) {
          // One more for the part itself, and one more to detect that there are further ones.
          const hits = one.flatMap((key) => probe(key, max + 2)).filter(({ part }) => part !== self)
          hits.sort((a, b) => a.distanceM - b.distanceM || a.part - b.part)
          const parts = new Set(hits.map(({ part }) => part))
          if (parts.size > max) complete = false
          for (const part of [...parts].slice(0, max)) found.add(part)
        }
        return {
          parts: [...found].sort((a, b) => a - b).map((number) => sharedOf(byNumber.get(number)!)),
          complete,
        }
      }),

    remedies: (kinds, vehicle, max) =>
      session.read(() => {
        const make = fold(vehicle?.make) ?? ''
        const model = fold(vehicle?.model) ?? ''
        // Cached: every check of a vehicle needs it, and parts seldom change.
        const asked = JSON.stringify([kinds, make, model, max])
        const state = session.state()
        if (state !== foundAtState || found.size >= MAX_FOUND) {
          found.clear()
          foundAtState = state
        }
        let remedies = found.get(asked)
        if (remedies === undefined) {
          remedies = kinds.flatMap((kind) => remediesOf(kind, make, model, max))
          found.set(asked, remedies)
        }
        return remedies
      }),
  }
}

function revisionOf({
  version,
  change,
  at_ms: atMs,
  changed_by: changedBy,
  content,
}: RevisionRow): PartRevision {
  const revision = { version, change, atMs, changedBy }
  return content === null ? revision : { ...revision, content }
}

/** Start of a page and, if an interface is given, the range of its dimension. */
function position({ interface: wanted }: PartFilter, { after }: PageRequest) {
  if (wanted === undefined) return { after: after === undefined ? 0 : Number(after) }
  const { key, minM, maxM } = wanted
  if (after === undefined) return { key, minM, maxM, afterM: minM, after: 0 }
  const [afterM, number] = after.split('/')
  return { key, minM, maxM, afterM: Number(afterM), after: Number(number) }
}
