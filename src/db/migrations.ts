import { createHash } from 'node:crypto'
import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { PROGRAM_FOLDER } from '../version.js'
import { OpenError } from './open-error.js'

/** A migration that was applied to a database. */
export interface Applied {
  readonly number: number
  readonly name: string
  readonly sha256: string
}

export interface Migration extends Applied {
  readonly sql: string
}

const FOLDER = join(PROGRAM_FOLDER, 'migrations')

/**
 * Every migration in order: files `NNNN_name.sql`, numbered from 1 without a gap. Once released, a file is frozen:
 * the database stores its hash, and a changed file stops the start. Those of SQLite are in `migrations`, those of PostgreSQL in the folder
 * `postgres` in it, numbered alike.
 */
export function readMigrations(database: 'sqlite' | 'postgres'): Migration[] {
  const folder = database === 'sqlite' ? FOLDER : join(FOLDER, database)
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

/**
 * Checks that the migrations applied to a database are the first of these.
 *
 * @param database - Name of the database, for messages
 * @throws {OpenError} `newer-file`, `changed-migration`
 */
export function assertKnown(
  database: string,
  version: number,
  applied: readonly Applied[],
  migrations: readonly Migration[],
): void {
  if (version > migrations.length) {
    throw new OpenError(
      'newer-file',
      `${database} has schema version ${version}; this program knows versions up to ${migrations.length}. Start the newer program, or restore a backup made before the upgrade.`,
    )
  }
  for (const { number, name, sha256 } of applied) {
    if (migrations[number - 1]?.sha256 !== sha256) {
      throw new OpenError(
        'changed-migration',
        `migrations/${name} is not the file that ${database} was made with. Migrations are frozen: put the released file back, and make the change in a new one.`,
      )
    }
  }
}
