import type { Client } from 'pg'
import { type Applied, assertKnown, type Migration, readMigrations } from '../migrations.js'
import { OpenError } from '../open-error.js'

/** Identifies the lock of migrations among the advisory locks of the database: "WtoD". */
const LOCK = 0x57_74_6f_44

const RECORD = `CREATE TABLE IF NOT EXISTS migrations (
  number          BIGINT PRIMARY KEY CHECK (number > 0),
  name            TEXT COLLATE "C" NOT NULL UNIQUE,
  sha256          TEXT COLLATE "C" NOT NULL CHECK (length(sha256) = 64),
  applied_at_ms   BIGINT NOT NULL CHECK (applied_at_ms BETWEEN 0 AND 253402300799999)
)`

/** Refuses a database of another program before anything is written to it. */
async function assertOurs(client: Client, name: string): Promise<void> {
  const { rows } = await client.query<{ tablename: string }>(
    'SELECT tablename FROM pg_tables WHERE schemaname = current_schema()',
  )
  if (rows.length > 0 && !rows.some(({ tablename }) => tablename === 'migrations')) {
    throw new OpenError('foreign-file', `${name} has tables of another program. Name another DATABASE_URL.`)
  }
}

async function applied(client: Client): Promise<Applied[]> {
  const { rows } = await client.query<{ there: boolean }>(
    "SELECT to_regclass('migrations') IS NOT NULL AS there",
  )
  if (!rows[0]!.there) return []
  return (await client.query<Applied>('SELECT number, name, sha256 FROM migrations ORDER BY number')).rows
}

async function apply(client: Client, { number, name, sha256, sql }: Migration, nowMs: number) {
  await client.query('BEGIN')
  try {
    await client.query(RECORD)
    await client.query(sql)
    await client.query(
      'INSERT INTO migrations (number, name, sha256, applied_at_ms) VALUES ($1, $2, $3, $4)',
      [number, name, sha256, nowMs],
    )
    await client.query('COMMIT')
  } catch (error) {
    await client.query('ROLLBACK')
    throw error
  }
}

/**
 * Migrates a database to the newest version, each migration with its record in one transaction. Only one process migrates at a time.
 *
 * @throws {OpenError} `foreign-file`, `newer-file`, `changed-migration`; nothing is written then
 */
export async function migrate(client: Client, name: string, nowMs: number): Promise<void> {
  await client.query('SELECT pg_advisory_lock($1)', [LOCK])
  try {
    await assertOurs(client, name)
    const migrations = readMigrations('postgres')
    const known = await applied(client)
    assertKnown(name, known.length, known, migrations)
    for (const migration of migrations.slice(known.length)) await apply(client, migration, nowMs)
  } finally {
    await client.query('SELECT pg_advisory_unlock($1)', [LOCK])
  }
}
