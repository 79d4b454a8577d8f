import type { Database } from 'better-sqlite3'
import { type Applied, assertKnown, type Migration } from '../migrations.js'

const RECORD = `CREATE TABLE IF NOT EXISTS migrations (
  number          INTEGER PRIMARY KEY CHECK (number > 0),
  name            TEXT NOT NULL UNIQUE,
  sha256          TEXT NOT NULL CHECK (length(sha256) = 64),
  applied_at_ms   INTEGER NOT NULL CHECK (applied_at_ms BETWEEN 0 AND 253402300799999)
) STRICT`

const versionOf = (db: Database) => db.pragma('user_version', { simple: true }) as number

/**
 * Checks that the migrations applied to a file are the first of these.
 *
 * @throws {OpenError} `newer-file`, `changed-migration`
 */
export function assertFileKnown(db: Database, migrations: readonly Migration[]): void {
  const version = versionOf(db)
  const applied =
    version === 0
      ? []
      : db.prepare<[], Applied>('SELECT number, name, sha256 FROM migrations ORDER BY number').all()
  assertKnown(db.name, version, applied, migrations)
}

/**
 * Migrates a database to the newest version, each migration with its record in one transaction.
 *
 * @returns The migrations that were applied now
 * @throws {OpenError} `newer-file`, `changed-migration`; nothing is written then
 */
export function migrate(db: Database, migrations: readonly Migration[], nowMs: number): Migration[] {
  assertFileKnown(db, migrations)
  const missing = migrations.slice(versionOf(db))
  for (const { number, name, sql, sha256 } of missing) {
    db.transaction(() => {
      // Another process may have applied the migration meanwhile.
      if (versionOf(db) >= number) return
      db.exec(RECORD)
      db.exec(sql)
      db.prepare('INSERT INTO migrations (number, name, sha256, applied_at_ms) VALUES (?, ?, ?, ?)').run(
        number,
        name,
        sha256,
        nowMs,
      )
      db.pragma(`user_version = ${number}`)
    }).immediate()
  }
  return [...missing]
}
