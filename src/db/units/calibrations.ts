import { uuidv7 } from 'uuidv7'
import type { Calibration, CalibrationStore, Judged, Recorded } from '../store/calibrations.js'
import { pageOf } from './pages.js'
import type { Session, Unit } from './session.js'
import { responseSaver } from './stored-responses.js'
import { admits } from './vehicles.js'

interface Row {
  readonly id: string
  readonly vehicle_id: string
  readonly version: number
  readonly path: string
  readonly accepted: 0 | 1
  readonly request: string
  readonly result: string
  readonly created_at_ms: number
  readonly changed_at_ms: number
}

/** Sorts after every id. */
const LAST = '~'

const calibrationOf = (row: Row): Calibration => ({
  id: row.id,
  vehicleId: row.vehicle_id,
  version: row.version,
  path: row.path,
  accepted: row.accepted === 1,
  request: row.request,
  result: row.result,
  createdAtMs: row.created_at_ms,
  changedAtMs: row.changed_at_ms,
})

export function calibrationStore(session: Session): CalibrationStore {
  const { nowMs } = session
  const saveResponse = responseSaver(session)
  const vehicle = session.prepare<{ id: string }>(
    'SELECT id FROM vehicles WHERE id = ? AND account_id = ? AND deleted_at_ms IS NULL',
  )
  const insert = session.prepare<Row>(
    `INSERT INTO calibrations (id, vehicle_id, version, path, accepted, request, result, key_id, created_at_ms, changed_at_ms)
     VALUES (?, ?, 1, ?, ?, ?, ?, ?, ?, ?) RETURNING *`,
  )
  const one = session.prepare<Row>('SELECT * FROM calibrations WHERE id = ? AND vehicle_id = ?')
  const rows = session.prepare<Row>(
    'SELECT * FROM calibrations WHERE vehicle_id = ? AND id < ? ORDER BY id DESC LIMIT ?',
  )
  const newest = session.prepare<Row>(
    'SELECT * FROM calibrations WHERE vehicle_id = ? AND path = ? AND accepted = 1 ORDER BY id DESC LIMIT 1',
  )
  const judge = session.prepare<Row>(
    'UPDATE calibrations SET accepted = ?, version = version + 1, changed_at_ms = ? WHERE id = ? RETURNING *',
  )
  function* isThere(accountId: string, vehicleId: string): Unit<boolean> {
    return (yield* vehicle.get(vehicleId, accountId)) !== undefined
  }

  return {
    record: session.write(function* (
      author,
      vehicleId,
      { path, accepted, request, result },
      save,
    ): Unit<Recorded> {
      if (!(yield* isThere(author.accountId, vehicleId))) return { outcome: 'absent' }
      const atMs = nowMs()
      const row = yield* insert.get(
        uuidv7(),
        vehicleId,
        path,
        accepted ? 1 : 0,
        request,
        result,
        author.keyId,
        atMs,
        atMs,
      )
      const calibration = calibrationOf(row!)
      yield* saveResponse(author.accountId, save, calibration)
      return { outcome: 'recorded', calibration }
    }),

    list: session.snapshot(function* (accountId, vehicleId, page) {
      if (!(yield* isThere(accountId, vehicleId))) return undefined
      const found = yield* rows.all(vehicleId, page.after ?? LAST, page.limit + 1)
      return pageOf(found, page, calibrationOf, ({ id }) => id)
    }),

    read: session.snapshot(function* (accountId, vehicleId, id) {
      const row = (yield* isThere(accountId, vehicleId)) ? yield* one.get(id, vehicleId) : undefined
      return row === undefined ? undefined : calibrationOf(row)
    }),

    judge: session.write(function* (author, vehicleId, id, versions, accepted): Unit<Judged> {
      const row = (yield* isThere(author.accountId, vehicleId)) ? yield* one.get(id, vehicleId) : undefined
      if (row === undefined) return { outcome: 'absent' }
      if (!admits(versions, row.version)) return { outcome: 'stale', version: row.version }
      return {
        outcome: 'judged',
        calibration: calibrationOf((yield* judge.get(accepted ? 1 : 0, nowMs(), id))!),
      }
    }),

    newestAccepted: session.snapshot(function* (accountId, vehicleId, path) {
      const row = (yield* isThere(accountId, vehicleId)) ? yield* newest.get(vehicleId, path) : undefined
      return row === undefined ? undefined : calibrationOf(row)
    }),
  }
}
