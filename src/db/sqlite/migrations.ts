import { createHash } from 'node:crypto'
import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import type { Database } from 'better-sqlite3'
import { OpenError } from './open-error.js'

export interface Migration {
  readonly number: number
  readonly name: string
  readonly sql: string
  readonly sha256: string
}

/** The folder of migrations: next to `src` or, after the build, next to `dist`. */
function migrationsFolder(): string {
  let folder = import.meta.dirname
  while (!existsSync(join(folder, 'migrations', '0001_base.sql'))) {
    const parent = dirname(folder)
    if (parent === folder) throw new Error(`no migrations folder above ${import.meta.dirname}`)
    folder = parent
  }
  return join(folder, 'migrations')
}

/**
 * Every migration in order: files `NNNN_name.sql`, numbered from 1 without a gap. Once released, a file is frozen:
 * the database stores its hash, and a changed file stops the start.
 */
export function readMigrations(folder = migrationsFolder()): Migration[] {
  const names = readdirSync(folder)
    .filter((name) => name.endsWith('.sql'))
    .sort()
  return names.map((name, index) => {
    const number = Number(/^(\d{4})_[a-z-]+\.sql$/.exec(name)?.[1])
    if (number !== index + 1)
      throw new Error(`migrations/${name}: expected number ${index + 1} as NNNN_name.sql`)
    // Line ends may differ between checkouts; they do not change the migration.
    const sql = readFileSync(join(folder, name), 'utf8').replaceAll('\r\n', '\n')
    return { number, name, sql, sha256: createHash('sha256').update(sql).digest('hex') }
  })
}

const RECORD = `CREATE TABLE IF NOT EXISTS migrations (
  number          INTEGER PRIMARY KEY CHECK (number > 0),
  name            TEXT NOT NULL UNIQUE,
  sha256          TEXT NOT NULL CHECK (length(sha256) = 64),
  applied_at_ms   INTEGER NOT NULL CHECK (applied_at_ms BETWEEN 0 AND 253402300799999)
) STRICT`

interface Applied {
  readonly number: number
  readonly name: string
  readonly sha256: string
}

const versionOf = (db: Database) => db.pragma('user_version', { simple: true }) as number

/**
 * Checks that the migrations applied to a database are the first of these.
 *
 * @throws {OpenError} `newer-file`, `changed-migration`
 */
export function assertKnown(db: Database, migrations: readonly Migration[]): void {
  const version = versionOf(db)
  if (version > migrations.length) {
    throw new OpenError(
      'newer-file',
      `${db.name} has schema version ${version}; this program knows versions up to ${migrations.length}. Start the newer program, or restore a backup made before the upgrade.`,
    )
  }
  if (version > 0) {
    const applied = db.prepare<[], Applied>('SELECT number, name, sha256 FROM migrations ORDER BY number')
    for (const { number, name, sha256 } of applied.all()) {
      if (migrations[number - 1]?.sha256 !== sha256) {
        throw new OpenError(
          'changed-migration',
          `migrations/${name} is not the file that ${db.name} was made with. Migrations are frozen: put the released file back, and make the change in a new one.`,
        )
      }
    }
  }
}

/**
 * Migrates a database to the newest version, each migration with its record in one transaction.
 *
 * @returns The migrations that were applied now
 * @throws {OpenError} `newer-file`, `changed-migration`; nothing is written then
 */
export function migrate(db: Database, migrations: readonly Migration[], nowMs: number): Migration[] {
  assertKnown(db, migrations)
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
