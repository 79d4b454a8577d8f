// Sets up a clone: Node, packages and build, whichever is missing or out of date.
import { spawnSync } from 'node:child_process'
import { existsSync, mkdirSync, readdirSync, readFileSync, statSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { installLocked, npm, SetupError } from './npm.mjs'
import { leadPathTo, serviceNode } from './runtime.mjs'

const root = fileURLToPath(new URL('..', import.meta.url))
const dist = join(root, 'dist')
/** Written after a build, with the version of Node whose compiled code it stored. */
const BUILT = join(dist, '.built')
const modifiedMs = (path) => (existsSync(path) ? statSync(path).mtimeMs : 0)

function newestSourceMs(folder) {
  let newest = 0
  for (const entry of readdirSync(folder, { withFileTypes: true })) {
    const path = join(folder, entry.name)
    newest = Math.max(newest, entry.isDirectory() ? newestSourceMs(path) : modifiedMs(path))
  }
  return newest
}

function isBuilt() {
  const newest = Math.max(
    newestSourceMs(join(root, 'src')),
    newestSourceMs(join(root, 'tools')),
    modifiedMs(join(root, 'tsconfig.build.json')),
    modifiedMs(join(root, 'package-lock.json')),
  )
  return modifiedMs(BUILT) >= newest
}

const isBuiltForThisNode = () => isBuilt() && readFileSync(BUILT, 'utf8') === process.version

async function build() {
  if (isBuiltForThisNode()) return
  // One build at a time, since a build deletes the previous one, and several tests request a build at once. The lock of a database
  // is released when its process ends, in whatever way.
  const { default: SqliteDatabase } = await import('better-sqlite3')
  mkdirSync(dist, { recursive: true })
  const lock = new SqliteDatabase(join(dist, '.lock'), { timeout: 600_000 })
  lock.exec('BEGIN EXCLUSIVE')
  if (!isBuiltForThisNode()) {
    const options = { cwd: root, stdio: 'inherit' }
    const { status } = isBuilt()
      ? spawnSync(process.execPath, ['tools/write-code-cache.mjs'], options)
      : npm(process.execPath, ['run', '--silent', 'compile'], options)
    if (status !== 0) throw new SetupError('the build failed: see its messages above.')
    writeFileSync(BUILT, process.version)
  }
  lock.close()
}

/**
 * Sets up, and ends the process with one sentence if it cannot.
 *
 * @returns The Node to run programs of this folder with
 */
export async function setUp({ builds, checks = false }) {
  try {
    const node = serviceNode()
    installLocked(root, node, 'installing packages (about half a minute the first time)')
    if (checks) installLocked(join(root, 'checks'), node, 'installing the packages that check')
    leadPathTo(node)
    if (builds && node === process.execPath) await build()
    else if (builds) {
      const { status } = spawnSync(node, ['tools/setup.mjs', '--build'], { cwd: root, stdio: 'inherit' })
      if (status !== 0) process.exit(1)
    }
    return node
  } catch (error) {
    if (!(error instanceof SetupError)) throw error
    console.error(`set-up failed: ${error.message}`)
    process.exit(1)
  }
}
