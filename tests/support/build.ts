import { spawnSync } from 'node:child_process'
import { join } from 'node:path'

const root = join(import.meta.dirname, '../..')

/** Builds what is older than its sources, for tests that start processes of their own; of files that ask at once one builds. */
export function build(): void {
  const { status, stderr } = spawnSync(process.execPath, ['tools/setup.mjs', '--build'], {
    cwd: root,
    encoding: 'utf8',
  })
  if (status !== 0) throw new Error(`the build failed: ${stderr}`)
}
