import { execFileSync } from 'node:child_process'
import { existsSync } from 'node:fs'
import { join } from 'node:path'

/** The folder of initdb and postgres: what pg_config says, or where Debian puts version 15. */
function programs(): string | undefined {
  const folders = ['/usr/lib/postgresql/15/bin']
  try {
    folders.unshift(execFileSync('pg_config', ['--bindir'], { encoding: 'utf8', stdio: 'pipe' }).trim())
  } catch {
    // Not installed, or installed without this program.
  }
  return folders.find((folder) => existsSync(join(folder, 'initdb')))
}

export const postgresPrograms = programs()

/** Says once a run that the tests of PostgreSQL are skipped where there is no server; REQUIRE_POSTGRES=1 makes that a failure. */
export default function sayWithoutPostgres(): void {
  if (postgresPrograms !== undefined) return
  const words = 'no PostgreSQL server (apt-get install postgresql-15)'
  if (process.env.REQUIRE_POSTGRES === '1') throw new Error(`REQUIRE_POSTGRES=1, but there is ${words}`)
  console.log(`Tests of the store in PostgreSQL are skipped: there is ${words}.`)
}
