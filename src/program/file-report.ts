import type { FileReport } from '../db/sqlite/backup.js'
import type { Surroundings } from './command.js'

/** Prints what was done with a file, and its contents. */
export function printReport(
  { print }: Surroundings,
  done: string,
  { bytes, schemaVersion, rows }: FileReport,
): void {
  print(`${done}: ${bytes} bytes, schema version ${schemaVersion}`)
  for (const [table, count] of Object.entries(rows)) print(`  ${table}: ${count}`)
}
