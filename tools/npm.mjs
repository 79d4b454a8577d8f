// Installs what a lock file names, with npm.
import { spawnSync } from 'node:child_process'
import { createHash } from 'node:crypto'
import { existsSync, lstatSync, readFileSync, writeFileSync } from 'node:fs'
import { delimiter, dirname, join } from 'node:path'

/** How long the registry may take to answer at all, before a download that npm would retry for minutes. [ms] */
const REGISTRY_ANSWERS_MS = 8000

/** A reason why the set-up cannot go on, as one sentence for its user. */
export class SetupError extends Error {}

/** Runs npm on the given Node. */
export function npm(node, args, options) {
  const env = { ...process.env, PATH: `${dirname(node)}${delimiter}${process.env.PATH}` }
  const cli = process.env.npm_execpath
  return cli?.endsWith('npm-cli.js')
    ? spawnSync(node, [cli, ...args], { ...options, env })
    : // npm is a shell script on Windows, hence the shell there.
      spawnSync('npm', args, { ...options, env, shell: process.platform === 'win32' })
}

/** Whether the registry answers, be it with an error. */
function registryAnswers(node, cwd) {
  const { status, stderr } = npm(
    node,
    ['ping', '--fetch-retries=0', `--fetch-timeout=${REGISTRY_ANSWERS_MS}`],
    {
      cwd,
      encoding: 'utf8',
      timeout: REGISTRY_ANSWERS_MS,
    },
  )
  return status === 0 || /\bE[45]\d\d\b/.test(stderr)
}

/**
 * Installs the packages of the lock file of a folder, if they are missing or of another lock file.
 *
 * @returns Whether the registry answered; npm leaves out optional packages that it cannot fetch, and is silent on them
 * @throws {SetupError}
 */
export function installLocked(folder, node, announcement) {
  // The hash of the installed lock file is stored: file times are meaningless after a checkout.
  const stamp = join(folder, 'node_modules', '.installed-lock')
  const lock = createHash('sha256')
    .update(readFileSync(join(folder, 'package-lock.json')))
    .digest('hex')
  if (existsSync(stamp) && readFileSync(stamp, 'utf8') === lock) return true
  // npm would empty the target of the link, which other checkouts may be using.
  if (lstatSync(join(folder, 'node_modules'), { throwIfNoEntry: false })?.isSymbolicLink())
    throw new SetupError(
      'node_modules is a link to packages of another lock file: remove the link, or install there.',
    )
  console.error(announcement)
  // No package needs its install script. The database driver brings its binaries; npm, which takes its binding.gyp for an order to
  // compile when it installs from a lock file, would need a compiler and Python.
  const install = ['ci', '--no-audit', '--no-fund', '--ignore-scripts']
  const answers = registryAnswers(node, folder)
  if (answers) {
    const { status } = npm(node, install, { cwd: folder, stdio: ['ignore', 'ignore', 'inherit'] })
    if (status !== 0) throw new SetupError('npm could not install the packages: see its messages above.')
  } else if (npm(node, [...install, '--offline'], { cwd: folder, stdio: 'ignore' }).status !== 0) {
    throw new SetupError('the npm registry does not answer, and the cache of npm does not hold all packages.')
  }
  writeFileSync(stamp, lock)
  return answers
}
