import type { Clock, Store } from '../store.js'
import { sqliteAccounts } from './accounts.js'
import { sqliteCalibrations } from './calibrations.js'
import { sqliteFits } from './fits.js'
import { sqliteHealth } from './health.js'
import { sqliteInstance } from './instance.js'
import { sqliteKeys } from './keys.js'
import { endOpening, openDatabase } from './open.js'
import { sqliteParts } from './parts.js'
import { openSession } from './session.js'
import { sqliteStoredResponses } from './stored-responses.js'
import { sqliteTireSizes } from './tire-sizes.js'
import { sqliteVehicles } from './vehicles.js'

export interface SqliteOptions {
  /** Path of the file, or `:memory:`. Created if it does not exist. */
  readonly file: string
  readonly clock: Clock
}

/**
 * Opens the store in an SQLite file.
 *
 * @throws {OpenError} when the file is not ours or is newer than this program
 */
export function openSqliteStore({ file, clock }: SqliteOptions): Store {
  const db = openDatabase({ file, nowMs: clock() })
  const session = openSession(db, clock)
  const store: Store = {
    instance: sqliteInstance(session),
    accounts: sqliteAccounts(session),
    keys: sqliteKeys(session),
    storedResponses: sqliteStoredResponses(session),
    vehicles: sqliteVehicles(session),
    calibrations: sqliteCalibrations(session),
    parts: sqliteParts(session),
    fits: sqliteFits(session),
    tireSizes: sqliteTireSizes(session),
    health: sqliteHealth(session),
    async close() {
      session.flush()
      db.close()
    },
  }
  endOpening(db)
  return store
}
