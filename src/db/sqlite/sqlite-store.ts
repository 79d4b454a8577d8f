import type { Clock, Store } from '../store.js'
import { healthStore } from '../units/health.js'
import { subjects } from '../units/subjects.js'
import { measurer } from './health.js'
import { makeInstance } from './instance.js'
import { endOpening, openDatabase } from './open.js'
import { sqlitePartTexts } from './part-texts.js'
import { openSession } from './session.js'

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
  makeInstance(db, clock())
  const session = openSession(db, clock)
  const store: Store = {
    ...subjects(session, sqlitePartTexts(session)),
    health: healthStore(session, measurer(db)),
    async close() {
      session.flush()
      db.close()
    },
  }
  endOpening(db)
  return store
}
