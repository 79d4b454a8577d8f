import { uuidv7 } from 'uuidv7'
import type { InterfaceProbe } from '../../domain/parts/mating.js'
import type { PageRequest } from '../store/common.js'
import type { Part, PartFilter, PartInput, PartRevision, PartStore, RemedyPart } from '../store/parts.js'
import type { ImportItem, ImportOutcome, SharedAuthor } from '../store/shared.js'
import { FIT_COLUMNS, FROM_FITS } from './fits.js'
import { fold } from './fold.js'
import { rowImport } from './imports.js'
import { pageOf } from './pages.js'
import type { MatchingSql, PartTexts } from './part-texts.js'
import { preparer } from './prepared.js'
import type { Session, Unit } from './session.js'
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
 * The SQL of a list for the given filters. It reads the index that gives the order, starting at the position of the page,
 * so the cost of a page does not depend on the size of the table.
 *
 * @param matching - Finds the parts that contain the text of the filter
 */
export function partListSql(filter: PartFilter, matching: MatchingSql): string {
  const where = ['parts.deleted_at_ms IS NULL']
  if (filter.kind !== undefined) where.push('parts.kind = :kind')
  if (filter.maker !== undefined) where.push('parts.maker_key = :maker')
  if (filter.interface !== undefined) {
    if (filter.text !== undefined) {
      where.push(matching.condition('meeting.part'))
    }
    // A part with several interfaces in the range is listed once, at the first. The concatenation keeps this subquery off
    // the index by key, where it would scan all other parts as well.
    return `SELECT ${COLUMNS}, meeting.primary_m FROM part_interfaces AS meeting
      CROSS JOIN parts ${DETAILS}
      WHERE parts.number = meeting.part AND meeting.key = :key AND meeting.secondary_m = 0 AND meeting.primary_m <= :maxM
        AND (meeting.primary_m, meeting.part) > (:afterM, :after) AND ${where.join(' AND ')}
        AND NOT EXISTS (SELECT 1 FROM part_interfaces AS earlier
          WHERE earlier.part = meeting.part AND earlier.key || '' = meeting.key AND earlier.primary_m >= :minM
            AND (earlier.primary_m, earlier.position) < (meeting.primary_m, meeting.position))
      ORDER BY meeting.primary_m, meeting.part LIMIT :limit`
  }
  if (filter.text !== undefined) {
    return `SELECT ${COLUMNS}, NULL AS primary_m FROM ${matching.table} AS matching
      CROSS JOIN parts ${DETAILS}
      WHERE parts.number = matching.part AND matching.part > :after AND ${where.join(' AND ')}
      ORDER BY matching.part LIMIT :limit`
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
  'SELECT min(secondary_m) AS secondary_m FROM part_interfaces WHERE key = ? AND secondary_m >= ? AND secondary_m <= ?'

/** Parts of a kind named in reports about a make and model. */
export const REPORTED_ON_SQL = `SELECT DISTINCT part FROM fits
  WHERE make_key = ? AND model_key = ? AND part_kind = ? AND deleted_at_ms IS NULL ORDER BY part LIMIT ?`

/** Most vehicles whose remedies are remembered. */
const MAX_REMEMBERED = 500

/** Most secondary dimensions per probe: only few pitches lie within a tolerance. */
const MAX_SECONDARIES = 64

interface Hit {
  readonly part: number
  readonly distanceM: number
}

interface InterfaceRow {
  readonly part: number
  readonly primary_m: number
}

/** Finds interfaces near a probe, nearest first, by walking the index outward from its dimension. */
function prober({ prepare }: Session) {
  const up = prepare<InterfaceRow>(NEAR_UP_SQL)
  const down = prepare<InterfaceRow>(NEAR_DOWN_SQL)
  const next = prepare<{ secondary_m: number | null }>(NEXT_SECONDARY_SQL)
  return function* (probe: InterfaceProbe, max: number): Unit<Hit[]> {
    const { key, primaryM, primaryToleranceM } = probe
    const hits: Hit[] = []
    const last = probe.secondaryM + probe.secondaryToleranceM
    let from = probe.secondaryM - probe.secondaryToleranceM
    for (let steps = 0; steps < MAX_SECONDARIES; steps++) {
      const secondaryM = (yield* next.get(key, from, last))!.secondary_m
      if (secondaryM === null) break
      for (const row of [
        ...(yield* up.all(key, secondaryM, primaryM, primaryM + primaryToleranceM, max)),
        ...(yield* down.all(key, secondaryM, primaryM, primaryM - primaryToleranceM, max)),
      ]) {
        hits.push({ part: row.part, distanceM: Math.abs(row.primary_m - primaryM) })
      }
      // Skips to the next value: pitches are of the order of a millimeter, so a femtometer more excludes only this one.
      from = secondaryM + 1e-15
    }
    return hits
  }
}

export function partStore(session: Session, texts: PartTexts): PartStore {
  const { nowMs } = session
  const saveResponse = responseSaver(session)
  const probe = prober(session)
  const listing = preparer<ListRow>(session)
  const live = session.prepare<SharedRow>(
    `SELECT ${COLUMNS} FROM parts ${DETAILS} WHERE parts.id = ? AND parts.deleted_at_ms IS NULL`,
  )
  const byNumber = session.prepare<SharedRow>(
    `SELECT ${COLUMNS} FROM parts ${DETAILS} WHERE parts.number = ? AND parts.deleted_at_ms IS NULL`,
  )
  const newestOfKind = session.prepare<SharedRow>(
    `SELECT ${COLUMNS} FROM parts ${DETAILS} WHERE parts.kind = ? AND parts.deleted_at_ms IS NULL
      ORDER BY parts.number DESC LIMIT ?`,
  )
  const reportedOn = session.prepare<{ part: number }>(REPORTED_ON_SQL)
  const reportsOf = session.prepare<SharedRow>(
    `SELECT ${FIT_COLUMNS} ${FROM_FITS}
      WHERE fits.part = ? AND fits.make_key = ? AND fits.model_key = ? AND fits.deleted_at_ms IS NULL ORDER BY fits.number`,
  )
  const numberOf = session.prepare<{ number: number }>('SELECT number FROM parts WHERE id = ?')
  const accountName = session.prepare<{ name: string }>('SELECT name FROM accounts WHERE id = ?')
  const insert = session.prepare(
    `INSERT INTO parts (id, account_id, version, kind, maker_key, created_at_ms, changed_at_ms)
     VALUES (?, ?, 1, ?, ?, ?, ?)`,
  )
  const update = session.prepare(
    'UPDATE parts SET version = ?, kind = ?, maker_key = ?, changed_at_ms = ? WHERE number = ?',
  )
  const updateFits = session.prepare('UPDATE fits SET part_kind = ? WHERE part = ? AND part_kind <> ?')
  const markDeleted = session.prepare(
    'UPDATE parts SET version = ?, changed_at_ms = ?, deleted_at_ms = ? WHERE number = ?',
  )
  const addRevision = session.prepare(
    'INSERT INTO part_revisions (part, version, change, at_ms, key_id, content) VALUES (?, ?, ?, ?, ?, ?)',
  )
  const addInterface = session.prepare(
    'INSERT INTO part_interfaces (part, position, key, primary_m, secondary_m) VALUES (?, ?, ?, ?, ?)',
  )
  const dropInterfaces = session.prepare('DELETE FROM part_interfaces WHERE part = ?')
  const reportsAbout = session.prepare<{ reports: number }>(
    `SELECT (SELECT count(*) FROM fits WHERE part = ? AND deleted_at_ms IS NULL)
            + (SELECT count(*) FROM fits WHERE other_part = ? AND deleted_at_ms IS NULL) AS reports`,
  )
  const revisionRows = session.prepare<RevisionRow>(
    `SELECT part_revisions.version, change, at_ms, accounts.name AS changed_by, content FROM part_revisions
      JOIN keys ON keys.id = key_id JOIN accounts ON accounts.id = keys.account_id
      WHERE part = ? AND part_revisions.version < ? ORDER BY part_revisions.version DESC LIMIT ?`,
  )

  /** Index entries of a part: its interfaces and words. */
  function* index(
    number: number,
    { name, maker = '', number: partNumber = '', notes = '', interfaces }: PartInput,
  ): Unit<void> {
    for (const [position, { key, primaryM, secondaryM }] of interfaces.entries()) {
      yield* addInterface.run(number, position, key, primaryM, secondaryM)
    }
    yield* texts.add(number, { name, maker, number: partNumber, notes })
  }

  function* unindex(number: number): Unit<void> {
    yield* dropInterfaces.run(number)
    yield* texts.remove(number)
  }

  function* add(
    author: SharedAuthor,
    input: PartInput,
    id = uuidv7(),
  ): Unit<Pick<Part, 'id' | 'createdAtMs'>> {
    const atMs = nowMs()
    const number = yield* insert.insert(id, author.accountId, input.kind, fold(input.maker), atMs, atMs)
    yield* addRevision.run(number, 1, 'created', atMs, author.keyId, input.content)
    yield* index(number, input)
    return { id, createdAtMs: atMs }
  }

  function* change(author: SharedAuthor, row: SharedRow, input: PartInput): Unit<Part> {
    const version = row.version + 1
    const atMs = nowMs()
    yield* update.run(version, input.kind, fold(input.maker), atMs, row.number)
    yield* updateFits.run(input.kind, row.number, input.kind)
    yield* addRevision.run(row.number, version, 'replaced', atMs, author.keyId, input.content)
    yield* unindex(row.number)
    yield* index(row.number, input)
    return { ...sharedOf(row), version, changedAtMs: atMs, content: input.content }
  }

  function* importOne(
    author: SharedAuthor,
    { id, version, input }: ImportItem<PartInput>,
  ): Unit<ImportOutcome> {
    if (id === undefined) return { outcome: 'created', id: (yield* add(author, input)).id }
    const row = yield* live.get(id)
    if (row === undefined) {
      if ((yield* numberOf.get(id)) !== undefined) return { outcome: 'deleted' }
      return { outcome: 'created', id: (yield* add(author, input, id)).id }
    }
    if (sameContent(row.content, input.content)) return { outcome: 'unchanged', id }
    if (version === undefined) return { outcome: 'exists', id }
    const refused = refusal(row, author, [version])
    if (refused !== undefined && refused.outcome !== 'absent') return refused
    yield* change(author, row, input)
    return { outcome: 'replaced', id }
  }

  // Every check of a vehicle needs them, and parts seldom change.
  const remembered = session.memory<readonly RemedyPart[]>({
    max: MAX_REMEMBERED,
    isClearedByOwnWrites: true,
    maxAgeMs: 1000,
    // A check goes on without them.
    whileAway: [],
  })

  function* remediesOf(kind: string, make: string, model: string, max: number): Unit<RemedyPart[]> {
    const stated = (yield* reportedOn.all(make, model, kind, max)).map(({ part }) => part)
    const others = (yield* newestOfKind.all(kind, max)).filter(({ number }) => !stated.includes(number))
    const remedies: RemedyPart[] = []
    for (const number of stated) {
      const part = sharedOf((yield* byNumber.get(number))!)
      remedies.push({ part, reports: (yield* reportsOf.all(number, make, model)).map(sharedOf) })
    }
    for (const row of others.slice(0, max - stated.length)) {
      remedies.push({ part: sharedOf(row), reports: [] })
    }
    return remedies
  }

  function* remediesOfKinds(
    kinds: readonly string[],
    make: string,
    model: string,
    max: number,
  ): Unit<RemedyPart[]> {
    const remedies: RemedyPart[] = []
    for (const kind of kinds) remedies.push(...(yield* remediesOf(kind, make, model, max)))
    return remedies
  }

  return {
    create: session.write(function* (author, input, save) {
      const { id, createdAtMs } = yield* add(author, input)
      const { name: recordedBy } = (yield* accountName.get(author.accountId))!
      const part = {
        id,
        version: 1,
        recordedBy,
        createdAtMs,
        changedAtMs: createdAtMs,
        content: input.content,
      }
      yield* saveResponse(author.accountId, save, part)
      return part
    }),

    read: sharedReader(session, live),

    list: session.read(function* (filter, page) {
      const rows = yield* listing(partListSql(filter, texts.matching)).all({
        ...position(filter, page),
        ...(filter.kind === undefined ? {} : { kind: filter.kind }),
        ...(filter.maker === undefined ? {} : { maker: fold(filter.maker) }),
        ...(filter.text === undefined ? {} : texts.parametersOf(filter.text)),
        limit: page.limit + 1,
      })
      return pageOf(rows, page, sharedOf, (row) =>
        row.primary_m === null ? String(row.number) : `${row.primary_m}/${row.number}`,
      )
    }),

    replace: session.write(function* (author, id, versions, edit) {
      const row = yield* live.get(id)
      const refused = refusal(row, author, versions)
      if (refused !== undefined) return refused
      return { outcome: 'replaced' as const, part: yield* change(author, row!, edit(sharedOf(row!))) }
    }),

    remove: session.write(function* (author, id, versions) {
      const row = yield* live.get(id)
      const refused = refusal(row, author, versions)
      if (refused !== undefined) return refused
      const { number, version } = row!
      const { reports } = (yield* reportsAbout.get(number, number))!
      if (reports > 0) return { outcome: 'in-use' as const, reports }
      const atMs = nowMs()
      yield* markDeleted.run(version + 1, atMs, atMs, number)
      yield* addRevision.run(number, version + 1, 'deleted', atMs, author.keyId, null)
      yield* unindex(number)
      return { outcome: 'removed' as const }
    }),

    revisions: session.snapshot(function* (id, page) {
      const part = yield* numberOf.get(id)
      if (part === undefined) return undefined
      const before = page.after === undefined ? Number.MAX_SAFE_INTEGER : Number(page.after)
      const rows = yield* revisionRows.all(part.number, before, page.limit + 1)
      return pageOf(rows, page, revisionOf, ({ version }) => String(version))
    }),

    import: rowImport(session, importOne),

    near: session.snapshot(function* (id, probes, max) {
      const self = (yield* numberOf.get(id))?.number
      const found = new Set<number>()
      let complete = true
      for (const one of probes) {
        // One more for the part itself, and one more to detect that there are further ones.
        const near: Hit[] = []
        for (const key of one) near.push(...(yield* probe(key, max + 2)))
        const hits = near.filter(({ part }) => part !== self)
        hits.sort((a, b) => a.distanceM - b.distanceM || a.part - b.part)
        const parts = new Set(hits.map(({ part }) => part))
        if (parts.size > max) complete = false
        for (const part of [...parts].slice(0, max)) found.add(part)
      }
      const parts: Part[] = []
      for (const number of [...found].sort((a, b) => a - b)) {
        parts.push(sharedOf((yield* byNumber.get(number))!))
      }
      return { parts, complete }
    }),

    remedies: session.snapshot((kinds, vehicle, max) => {
      const make = fold(vehicle?.make) ?? ''
      const model = fold(vehicle?.model) ?? ''
      const asked = JSON.stringify([kinds, make, model, max])
      return remembered.get(asked, () => remediesOfKinds(kinds, make, model, max))
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
