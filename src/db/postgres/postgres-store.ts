import type { Pool } from 'pg'
import { readMigrations } from '../migrations.js'
import type { Clock, Store } from '../store.js'
import { healthStore, type Measured } from '../units/health.js'
import { subjects } from '../units/subjects.js'
import { failureOf } from './failures.js'
import { openPool } from './open.js'
import { postgresPartTexts } from './part-texts.js'
import { openSession } from './session.js'

export interface PostgresOptions {
  /** As libpq takes it: postgres://user@host/database. */
  readonly url: string
  readonly clock: Clock
}

/** Makes the measurement of a database. */
function measurer(pool: Pool): () => Promise<Measured> {
  const expectedSchemaVersion = readMigrations('postgres').length
  return async () => {
    const found = await pool
      .query<{ version: number; bytes: number }>(
        `SELECT (SELECT max(number) FROM migrations) AS version, pg_database_size(current_database()) AS bytes`,
      )
      .catch((error: unknown) => {
        throw failureOf(error)
      })
    const { version, bytes } = found.rows[0]!
    return { schemaVersion: version, expectedSchemaVersion, databaseBytes: bytes }
  }
}

/**
 * Opens the store in a PostgreSQL database, version 15 or later.
 *
 * @throws {OpenError} when it cannot be reached, is not ours or is newer than this program
 */
export async function openPostgresStore({ url, clock }: PostgresOptions): Promise<Store> {
  const pool = await openPool(url, clock())
  const session = openSession(pool, clock)
  return {
    ...subjects(session, postgresPartTexts(session)),
    health: healthStore(session, measurer(pool)),
    close: () => pool.end(),
  }
}
