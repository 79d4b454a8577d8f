import type { Config } from '../src/config.js'
import type { FileReport } from '../src/db/sqlite/backup.js'

/** Runs a command on one file and prints the contents of the file; errors are printed without a stack. */
export function runOnFile(usage: string, command: (file: string) => [string, FileReport]): void {
  const [file, ...more] = process.argv.slice(2)
  if (file === undefined || more.length > 0) {
    console.error(usage)
    process.exitCode = 2
    return
  }
  try {
    const [done, { bytes, schemaVersion, rows }] = command(file)
    console.log(`${done}: ${bytes} bytes, schema version ${schemaVersion}`)
    for (const [table, count] of Object.entries(rows)) console.log(`  ${table}: ${count}`)
  } catch (error) {
    console.error((error as Error).message)
    process.exitCode = 1
  }
}

/** The database file of the settings. @throws {Error} if they name a PostgreSQL database, which has tools of its own */
export function fileOf({ databaseFile, databaseUrl }: Config): string {
  if (databaseUrl === undefined) return databaseFile
  throw new Error(
    'DATABASE_URL is set: back up the PostgreSQL database with pg_dump --format=custom, and restore it with pg_restore.',
  )
}
