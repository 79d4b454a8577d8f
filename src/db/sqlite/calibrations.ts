import { uuidv7 } from 'uuidv7'
import type { Calibration, CalibrationStore, Judged, Recorded } from '../store/calibrations.js'
import { pageOf } from './pages.js'
import type { Session } from './session.js'
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

export function sqliteCalibrations(session: Session): CalibrationStore {
  const { db, nowMs } = session
  const saveResponse = responseSaver(session)
  const vehicle = db
    .prepare<[string, string], number>(
      'SELECT 1 FROM vehicles WHERE id = ? AND account_id = ? AND deleted_at_ms IS NULL',
    )
    .pluck()
  const insert = db.prepare<unknown[], Row>(
    `INSERT INTO calibrations (id, vehicle_id, version, path, accepted, request, result, key_id, created_at_ms, changed_at_ms)
     VALUES (?, ?, 1, ?, ?, ?, ?, ?, ?, ?) RETURNING *`,
  )
  const one = db.prepare<[string, string], Row>('SELECT * FROM calibrations WHERE id = ? AND vehicle_id = ?')
  const rows = db.prepare<[string, string, number], Row>(
    'SELECT * FROM calibrations WHERE vehicle_id = ? AND id < ? ORDER BY id DESC LIMIT ?',
  )
  const newest = db.prepare<[string, string], Row>(
    'SELECT * FROM calibrations WHERE vehicle_id = ? AND path = ? AND accepted = 1 ORDER BY id DESC LIMIT 1',
  )
  const judge = db.prepare<[number, number, string], Row>(
    'UPDATE calibrations SET accepted = ?, version = version + 1, changed_at_ms = ? WHERE id = ? RETURNING *',
  )
  const isThere = (accountId: string, vehicleId: string) => vehicle.get(vehicleId, accountId) !== undefined

  return {
    record: (author, vehicleId, { path, accepted, request, result }, save) =>
      session.write((): Recorded => {
        if (!isThere(author.accountId, vehicleId)) return { outcome: 'absent' }
        const atMs = nowMs()
        const row = insert.get(
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
        saveResponse(author.accountId, save, calibration)
        return { outcome: 'recorded', calibration }
      }),

    list: (accountId, vehicleId, page) =>
      session.read(() =>
        isThere(accountId, vehicleId)
          ? pageOf(
              rows.all(vehicleId, page.after ?? LAST, page.limit + 1),
              page,
              calibrationOf,
              ({ id }) => id,
            )
          : undefined,
      ),

    read: (accountId, vehicleId, id) =>
      session.read(() => {
        const row = isThere(accountId, vehicleId) ? one.get(id, vehicleId) : undefined
        return row === undefined ? undefined : calibrationOf(row)
      }),

    judge: (author, vehicleId, id, versions, accepted) =>
      session.write((): Judged => {
        const row = isThere(author.accountId, vehicleId) ? one.get(id, vehicleId) : undefined
        if (row === undefined) return { outcome: 'absent' }
        if (!admits(versions, row.version)) return { outcome: 'stale', version: row.version }
        return { outcome: 'judged', calibration: calibrationOf(judge.get(accepted ? 1 : 0, nowMs(), id)!) }
      }),

    newestAccepted: (accountId, vehicleId, path) =>
      session.read(() => {
        const row = isThere(accountId, vehicleId) ? newest.get(vehicleId, path) : undefined
        return row === undefined ? undefined : calibrationOf(row)
      }),
  }
}
