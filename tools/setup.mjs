// Set-up on a fresh clone with Node and npm only: installs the packages of the lock file if they are
// missing or out of date; with --build also compiles if a source is newer than the last build.
import { spawnSync } from 'node:child_process'
import { createHash } from 'node:crypto'
import { existsSync, lstatSync, mkdirSync, readdirSync, readFileSync, statSync, writeFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'

const root = join(dirname(fileURLToPath(import.meta.url)), '..')
const modifiedMs = (path) => (existsSync(path) ? statSync(path).mtimeMs : 0)

function run(command, args) {
  // npm is a shell script on Windows, hence the shell there.
  const result = spawnSync(command, args, {
    cwd: root,
    stdio: 'inherit',
    shell: process.platform === 'win32',
  })
  if (result.status !== 0) {
    console.error(`set-up failed: ${command} ${args.join(' ')}`)
    process.exit(result.status ?? 1)
  }
}

function newestSourceMs(folder) {
  let newest = 0
  for (const entry of readdirSync(folder, { withFileTypes: true })) {
    const path = join(folder, entry.name)
    newest = Math.max(newest, entry.isDirectory() ? newestSourceMs(path) : modifiedMs(path))
  }
  return newest
}

const [major, minor] = process.versions.node.split('.').map(Number)
if (major < 20 || (major === 20 && minor < 19)) {
  console.error(`Node ${process.versions.node} is too old: wheel-to-dial needs Node 20.19 or later.`)
  process.exit(1)
}

// The hash of the installed lock file is stored: file times are meaningless after a checkout.
const stamp = join(root, 'node_modules', '.installed-lock')
const lock = createHash('sha256')
  .update(readFileSync(join(root, 'package-lock.json')))
  .digest('hex')
if (!existsSync(stamp) || readFileSync(stamp, 'utf8') !== lock) {
  // npm would empty the target of the link, which other checkouts may be using.
  if (lstatSync(join(root, 'node_modules'), { throwIfNoEntry: false })?.isSymbolicLink()) {
    console.error(
      'node_modules is a link to packages of another lock file: remove the link, or install there',
    )
    process.exit(1)
  }
  console.error('installing packages (about two minutes the first time: the database driver is compiled)')
  run('npm', ['ci', '--no-audit', '--no-fund'])
  writeFileSync(stamp, lock)
}

function isBuilt() {
  const newest = Math.max(
    newestSourceMs(join(root, 'src')),
    newestSourceMs(join(root, 'tools')),
    modifiedMs(join(root, 'tsconfig.build.json')),
    modifiedMs(join(root, 'package-lock.json')),
  )
  return modifiedMs(join(root, 'dist', '.built')) >= newest
}

if (process.argv.includes('--build') && !isBuilt()) {
  // One build at a time, since a build deletes the previous one, and several tests request a build at once. The lock of a database
  // is released when its process ends, in whatever way.
  const { default: SqliteDatabase } = await import('better-sqlite3')
  mkdirSync(join(root, 'dist'), { recursive: true })
  const lock = new SqliteDatabase(join(root, 'dist', '.lock'), { timeout: 600_000 })
  lock.exec('BEGIN EXCLUSIVE')
  if (!isBuilt()) {
    run('npm', ['run', '--silent', 'build'])
    writeFileSync(join(root, 'dist', '.built'), '')
  }
  lock.close()
}
