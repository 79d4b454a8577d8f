import { uuidv7 } from 'uuidv7'
import type { Author, Versions } from '../store/common.js'
import type {
  Change,
  Created,
  Put,
  Removed,
  Replaced,
  Revision,
  Vehicle,
  VehicleFilter,
  VehicleInput,
  VehicleStore,
} from '../store/vehicles.js'
import { fold } from './fold.js'
import { pageOf } from './pages.js'
import { preparer } from './prepared.js'
import type { Session, Unit } from './session.js'
import { responseSaver } from './stored-responses.js'

interface VehicleRow {
  readonly id: string
  readonly version: number
  readonly created_at_ms: number
  readonly changed_at_ms: number
  readonly profile: string
}

interface ChangeRow {
  readonly version: number
  readonly change: Change['change']
  readonly at_ms: number
  readonly key_id: string
  readonly label: string
}

interface RevisionRow extends ChangeRow {
  readonly created_at_ms: number
  readonly profile: string | null
}

const VEHICLE = `SELECT vehicles.id, vehicles.version, created_at_ms, changed_at_ms, profile
  FROM vehicles JOIN vehicle_revisions ON vehicle_id = vehicles.id AND vehicle_revisions.version = vehicles.version`
const CHANGE = 'vehicle_revisions.version, change, at_ms, key_id, label'

/** Whether a change may be made on this version. */
export const admits = (versions: Versions, version: number) =>
  versions === 'any' || versions.includes(version)

const vehicleOf = (row: VehicleRow): Vehicle => ({
  id: row.id,
  version: row.version,
  createdAtMs: row.created_at_ms,
  changedAtMs: row.changed_at_ms,
  profile: row.profile,
})

const changeOf = ({ version, change, at_ms, key_id, label }: ChangeRow): Change => ({
  version,
  change,
  atMs: at_ms,
  keyId: key_id,
  keyLabel: label,
})

function revisionOf(id: string, row: RevisionRow): Revision {
  const { version, created_at_ms: createdAtMs, at_ms: changedAtMs, profile } = row
  if (profile === null) return changeOf(row)
  return { ...changeOf(row), vehicle: { id, version, createdAtMs, changedAtMs, profile } }
}

/** The list, by whichever of the filters are given. */
function lister(session: Session) {
  const listing = preparer<VehicleRow>(session)
  return (accountId: string, { make, model, reference }: VehicleFilter, after: string, limit: number) => {
    const asked = Object.entries({
      make_key: fold(make),
      model_key: fold(model),
      reference: reference ?? null,
    })
    const given = asked.filter(([, value]) => value !== null)
    const where = given.map(([column]) => ` AND ${column} = ?`).join('')
    const statement = listing(
      `${VEHICLE} WHERE account_id = ? AND deleted_at_ms IS NULL${where} AND vehicles.id > ? ORDER BY vehicles.id LIMIT ?`,
    )
    return statement.all(accountId, ...given.map(([, value]) => value), after, limit)
  }
}

export function vehicleStore(session: Session): VehicleStore {
  const { nowMs } = session
  const saveResponse = responseSaver(session)
  const listRows = lister(session)
  const live = session.prepare<VehicleRow>(
    `${VEHICLE} WHERE vehicles.id = ? AND account_id = ? AND deleted_at_ms IS NULL`,
  )
  const byReference = session.prepare<VehicleRow>(
    `${VEHICLE} WHERE account_id = ? AND reference = ? AND deleted_at_ms IS NULL`,
  )
  const insert = session.prepare(
    `INSERT INTO vehicles (id, account_id, version, reference, make_key, model_key, created_at_ms, changed_at_ms)
     VALUES (?, ?, 1, ?, ?, ?, ?, ?)`,
  )
  const update = session.prepare(
    'UPDATE vehicles SET version = ?, reference = ?, make_key = ?, model_key = ?, changed_at_ms = ? WHERE id = ?',
  )
  const markDeleted = session.prepare(
    'UPDATE vehicles SET version = ?, changed_at_ms = ?, deleted_at_ms = ? WHERE id = ?',
  )
  const addRevision = session.prepare(
    'INSERT INTO vehicle_revisions (vehicle_id, version, change, at_ms, key_id, profile) VALUES (?, ?, ?, ?, ?, ?)',
  )
  const ever = session.prepare<{ id: string }>('SELECT id FROM vehicles WHERE id = ? AND account_id = ?')
  const changes = session.prepare<ChangeRow>(
    `SELECT ${CHANGE} FROM vehicle_revisions JOIN keys ON keys.id = key_id
      WHERE vehicle_id = ? AND version < ? ORDER BY version DESC LIMIT ?`,
  )
  const revision = session.prepare<RevisionRow>(
    `SELECT ${CHANGE}, vehicles.created_at_ms, profile FROM vehicle_revisions
       JOIN keys ON keys.id = key_id JOIN vehicles ON vehicles.id = vehicle_id
      WHERE vehicle_id = ? AND vehicle_revisions.version = ?`,
  )

  /** Another vehicle of the account that has the reference already. */
  function* holder(accountId: string, { reference }: VehicleInput, id?: string): Unit<string | undefined> {
    const row = reference === undefined ? undefined : yield* byReference.get(accountId, reference)
    return row === undefined || row.id === id ? undefined : row.id
  }

  function* add(author: Author, input: VehicleInput): Unit<Vehicle> {
    const id = uuidv7()
    const atMs = nowMs()
    yield* insert.run(
      id,
      author.accountId,
      input.reference ?? null,
      fold(input.make),
      fold(input.model),
      atMs,
      atMs,
    )
    yield* addRevision.run(id, 1, 'created', atMs, author.keyId, input.profile)
    return { id, version: 1, createdAtMs: atMs, changedAtMs: atMs, profile: input.profile }
  }

  function* change(author: Author, row: VehicleRow, input: VehicleInput): Unit<Vehicle> {
    const version = row.version + 1
    const atMs = nowMs()
    yield* update.run(version, input.reference ?? null, fold(input.make), fold(input.model), atMs, row.id)
    yield* addRevision.run(row.id, version, 'replaced', atMs, author.keyId, input.profile)
    return { id: row.id, version, createdAtMs: row.created_at_ms, changedAtMs: atMs, profile: input.profile }
  }

  return {
    create: session.write(function* (author, input, save): Unit<Created> {
      const taken = yield* holder(author.accountId, input)
      if (taken !== undefined) return { outcome: 'reference-taken', id: taken }
      const vehicle = yield* add(author, input)
      yield* saveResponse(author.accountId, save, vehicle)
      return { outcome: 'created', vehicle }
    }),

    read: session.read(function* (accountId, id) {
      const row = yield* live.get(id, accountId)
      return row === undefined ? undefined : vehicleOf(row)
    }),

    list: session.read(function* (accountId, filter, page) {
      const rows = yield* listRows(accountId, filter, page.after ?? '', page.limit + 1)
      return pageOf(rows, page, vehicleOf, ({ id }) => id)
    }),

    replace: session.write(function* (author, id, versions, edit): Unit<Replaced> {
      const row = yield* live.get(id, author.accountId)
      if (row === undefined) return { outcome: 'absent' }
      if (!admits(versions, row.version)) return { outcome: 'stale', version: row.version }
      const input = edit(vehicleOf(row))
      const taken = yield* holder(author.accountId, input, id)
      if (taken !== undefined) return { outcome: 'reference-taken', id: taken }
      return { outcome: 'replaced', vehicle: yield* change(author, row, input) }
    }),

    putByReference: session.write(function* (author, reference, { versions, unless = [] }, given): Unit<Put> {
      const input = { ...given, reference }
      const row = yield* byReference.get(author.accountId, reference)
      if (row === undefined) {
        if (versions !== undefined) return { outcome: 'absent' }
        return { outcome: 'created', vehicle: yield* add(author, input) }
      }
      const { version } = row
      if (admits(unless, version) || (versions !== undefined && !admits(versions, version)))
        return { outcome: 'stale', version }
      if (row.profile === input.profile) return { outcome: 'unchanged', vehicle: vehicleOf(row) }
      if (versions === undefined) return { outcome: 'condition-required', version }
      return { outcome: 'replaced', vehicle: yield* change(author, row, input) }
    }),

    remove: session.write(function* (author, id, versions): Unit<Removed> {
      const row = yield* live.get(id, author.accountId)
      if (row === undefined) return { outcome: 'absent' }
      if (!admits(versions, row.version)) return { outcome: 'stale', version: row.version }
      const atMs = nowMs()
      yield* markDeleted.run(row.version + 1, atMs, atMs, id)
      yield* addRevision.run(id, row.version + 1, 'deleted', atMs, author.keyId, null)
      return { outcome: 'removed' }
    }),

    revisions: session.snapshot(function* (accountId, id, page) {
      if ((yield* ever.get(id, accountId)) === undefined) return undefined
      const before = page.after === undefined ? Number.MAX_SAFE_INTEGER : Number(page.after)
      const rows = yield* changes.all(id, before, page.limit + 1)
      return pageOf(rows, page, changeOf, ({ version }) => String(version))
    }),

    revision: session.snapshot(function* (accountId, id, version) {
      if ((yield* ever.get(id, accountId)) === undefined) return undefined
      const row = yield* revision.get(id, version)
      return row === undefined ? undefined : revisionOf(id, row)
    }),
  }
}
