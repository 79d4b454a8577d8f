import { spawnSync } from 'node:child_process'
import { join } from 'node:path'
import SqliteDatabase from 'better-sqlite3'

const root = join(import.meta.dirname, '../..')

/** How long one file may wait for the build of another [ms]. */
const PATIENCE_MS = 110_000

/** Builds what is older than its sources, for tests that start processes of their own; files that ask at once build once. */
export function build(): void {
  // The lock of a database ends with its process, however that ends.
  const lock = new SqliteDatabase(join(root, 'node_modules/.build-lock'), { timeout: PATIENCE_MS })
  try {
    lock.exec('BEGIN EXCLUSIVE')
    const { status, stderr } = spawnSync(process.execPath, ['tools/setup.mjs', '--build'], {
      cwd: root,
      encoding: 'utf8',
    })
    if (status !== 0) throw new Error(`the build failed: ${stderr}`)
  } finally {
    lock.close()
  }
}
