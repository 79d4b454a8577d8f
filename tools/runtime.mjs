// The Node that runs the service: the machine's own, or the one of the npm registry if that is too old.
import { spawnSync } from 'node:child_process'
import { existsSync, readdirSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs'
import { dirname, join, relative, sep } from 'node:path'
import { fileURLToPath } from 'node:url'
import { installLocked, SetupError } from './npm.mjs'

const root = fileURLToPath(new URL('..', import.meta.url))
const RUNTIMES = join(root, 'runtimes')
const FALLBACK = 'fallback'
const PROGRAM = process.platform === 'win32' ? 'node.exe' : 'node'

/** The oldest Node of `engines` in package.json: `>=22.19`. */
const OLDEST = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8')).engines.node.replace('>=', '')

/** Whether a version of Node is one that `engines` allows. */
export function isRecent(version, oldest = OLDEST) {
  const [major, minor] = version.split('.').map(Number)
  const [oldestMajor, oldestMinor] = oldest.split('.').map(Number)
  return major > oldestMajor || (major === oldestMajor && minor >= oldestMinor)
}

/**
 * The Node of a folder of `runtimes`, from the registry if it is not installed yet.
 *
 * @throws {SetupError}
 */
export function registryNode(name, announcement) {
  const folder = join(RUNTIMES, name)
  const answers = installLocked(folder, process.execPath, announcement)
  const modules = join(folder, 'node_modules')
  const node = readdirSync(modules)
    .map((entry) => join(modules, entry, 'bin', PROGRAM))
    .find((path) => existsSync(path))
  if (node === undefined) {
    // The packages of all platforms are optional: the next try starts anew.
    rmSync(modules, { recursive: true, force: true })
    throw new SetupError(
      answers
        ? `the npm registry did not send one for ${process.platform} on ${process.arch}.`
        : 'the npm registry does not answer.',
    )
  }
  if (spawnSync(node, ['--version']).status !== 0)
    throw new SetupError('the one of the npm registry does not run on this machine.')
  return node
}

const isFallback = (path) => path.startsWith(join(RUNTIMES, FALLBACK) + sep)

/** The machine's own Node. Where the link of `leadPathTo` hides it, npm says which one it runs on. */
function ownNode() {
  const running = { path: process.execPath, version: process.versions.node }
  const path = process.env.npm_node_execpath
  if (!isFallback(running.path) || path === undefined || isFallback(path)) return running
  const { stdout } = spawnSync(path, ['--version'], { encoding: 'utf8' })
  return { path, version: stdout.slice(1) }
}

/**
 * The Node to run the service with.
 *
 * @throws {SetupError}
 */
export function serviceNode() {
  const own = ownNode()
  if (isRecent(own.version)) return own.path
  try {
    return registryNode(
      FALLBACK,
      `Node ${own.version} is too old: getting a newer one from the npm registry, for this folder only`,
    )
  } catch (error) {
    if (!(error instanceof SetupError)) throw error
    throw new SetupError(
      `wheel-to-dial needs Node ${OLDEST} or later, this is Node ${own.version}, and a newer one could not be fetched: ${error.message}`,
    )
  }
}

/**
 * Has `node` mean the given Node in npm scripts, whose PATH npm begins with `node_modules/.bin`. The machine's own Node needs no link.
 */
export function leadPathTo(node) {
  const isWindows = process.platform === 'win32'
  const link = join(root, 'node_modules', '.bin', isWindows ? 'node.cmd' : 'node')
  if (isFallback(node)) {
    if (existsSync(link)) return
    rmSync(link, { force: true })
    // Links need special rights on Windows.
    if (isWindows) writeFileSync(link, `@"${node}" %*\r\n`)
    else symlinkSync(relative(dirname(link), node), link)
  } else if (isFallback(process.execPath)) {
    rmSync(link, { force: true })
  }
}
