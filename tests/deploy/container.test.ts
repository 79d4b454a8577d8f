import { execFileSync, spawn, spawnSync } from 'node:child_process'
import { chmodSync, cpSync, existsSync, mkdirSync, readFileSync, renameSync } from 'node:fs'
import { join, relative } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { beforeAll, expect, test } from 'vitest'
import { productionPackages } from '../../tools/notices.js'
import { build } from '../support/build.js'
import { tempFolder } from '../support/temp.js'

const root = join(import.meta.dirname, '../..')

/** The instructions of the container file, each with its arguments; continued lines and comments do not occur in it. */
const instructions = readFileSync(join(root, 'deploy/Containerfile'), 'utf8')
  .split('\n')
  .filter((line) => /^[A-Z]+ /.test(line))
  .map((line) => [line.split(' ', 1)[0]!, line.slice(line.indexOf(' ') + 1)] as const)

const argumentOf = (name: string) => instructions.find(([instruction]) => instruction === name)![1]
/** The program and its arguments in a list such as ["node", "file"]. */
const listIn = (text: string): [string, ...string[]] => JSON.parse(text.slice(text.indexOf('[')))

/** A package of development, small: the service must run without it. */
const TOOL = 'json-stringify-pretty-compact'

/** Files of the project without what .dockerignore names. */
const tracked = () =>
  execFileSync('git', ['ls-files', '-z'], { cwd: root, encoding: 'utf8' }).split('\0').filter(Boolean)

/** Who runs the service, where root runs the test: nobody. */
const NOBODY = 65_534

beforeAll(build, 600_000)

/**
 * Carries out the instructions on folders in place of the file systems of the two stages. What needs a network or a minute is replaced: the
 * packages of production (copying the others would take long) and the build of this project are copied, the package of the base system
 * is left out, and what the last stage copies is moved.
 */
function carryOut(stages: string): void {
  let stage = join(stages, 'none')
  let folder = stage
  const inStage = (path: string) => (path.startsWith('/') ? join(stage, path) : join(folder, path))
  const copy = (from: string, to: string) => cpSync(from, to, { recursive: true, verbatimSymlinks: true })
  for (const [name, argument] of instructions) {
    if (name === 'FROM') {
      stage = join(stages, / AS (\w+)$/.exec(argument)?.[1] ?? 'final')
      folder = stage
      mkdirSync(folder, { recursive: true })
    } else if (name === 'WORKDIR') {
      folder = join(stage, argument)
      mkdirSync(folder, { recursive: true })
    } else if (name === 'COPY') {
      const [, of, paths] = /^(?:--from=(\w+) )?(.+)$/.exec(argument)!
      const sources = paths!.split(' ')
      const target = inStage(sources.pop()!)
      const into = (source: string) => (sources.length > 1 ? join(target, source.split('/').at(-1)!) : target)
      for (const source of sources) {
        if (of !== undefined) renameSync(join(stages, of, source), into(source))
        else if (source === '.') for (const file of tracked()) copy(join(root, file), join(target, file))
        else copy(join(root, source), into(source))
      }
    } else if (name === 'RUN') {
      if (argument === 'node tools/setup.mjs --build') {
        const installed = productionPackages(root).map((one) => relative(root, one.folder))
        for (const one of [...installed, `node_modules/${TOOL}`, 'dist'])
          copy(join(root, one), join(folder, one))
      } else if (!argument.startsWith('apt-get ')) {
        // The users of the base image are not those of this machine.
        const command = argument.replace('-o node -g node ', '').replaceAll(/ (\/\w+)/g, ` ${stage}$1`)
        execFileSync('sh', ['-c', command], { cwd: folder, stdio: 'pipe' })
      }
    }
  }
}

test.skipIf(process.platform === 'win32')(
  'the container file gives a service that runs unprivileged on files that it cannot change, and its health check tells whether it runs',
  async () => {
    expect(argumentOf('USER')).toBe('node')
    // As process 1 it would ignore the SIGKILL of its own watchdog.
    expect(listIn(argumentOf('ENTRYPOINT'))).toEqual(['tini', '--'])
    const stages = tempFolder()
    carryOut(stages)
    const app = join(stages, 'final/app')
    const data = join(stages, 'final/data')
    expect(existsSync(join(app, 'node_modules', TOOL))).toBe(false)

    chmodSync(stages, 0o755)
    const asRoot = process.getuid!() === 0
    if (asRoot) execFileSync('chown', [String(NOBODY), data])
    else execFileSync('chmod', ['-R', 'a-w', app])
    const environment = Object.fromEntries(
      argumentOf('ENV')
        .split(' ')
        .map((pair) => pair.split('=') as [string, string])
        .map(([name, value]) => [name, value.replace(/^\/data/, data)]),
    )
    const options = {
      cwd: app,
      env: { ...environment, HOST: '127.0.0.1', PORT: '0', PATH: process.env.PATH! },
      ...(asRoot ? { uid: NOBODY, gid: NOBODY } : {}),
    }
    const [, ...args] = listIn(argumentOf('CMD'))
    const child = spawn(process.execPath, args, options)
    try {
      let printed = ''
      for (const stream of [child.stdout, child.stderr])
        stream.on('data', (chunk) => {
          printed += chunk
        })
      while (!/listens on \S+\./.test(printed)) {
        if (child.exitCode !== null) throw new Error(printed)
        await wait(50)
      }
      const address = /listens on (\S+)\./.exec(printed)![1]!
      const example = readFileSync(join(app, 'examples/vehicles/cable-changed-axle.json'))
      const headers = { 'content-type': 'application/json' }
      const checked = await fetch(`${address}/v1/vehicle-checks`, { method: 'POST', headers, body: example })
      expect(checked.status).toBe(200)
      // Computed in a thread, with the fonts.
      const printedSheet = await fetch(`${address}/v1/vehicle-checks/worksheet`, {
        method: 'POST',
        headers: { ...headers, accept: 'application/pdf' },
        body: example,
      })
      expect([printedSheet.status, (await printedSheet.text()).slice(0, 5)]).toEqual([200, '%PDF-'])
      for (const path of [
        '/',
        '/pages/page.css',
        '/reference/checkVehicle',
        '/notices',
        '/openapi.json',
        '/readyz',
      ])
        expect((await fetch(`${address}${path}`)).status, path).toBe(200)

      const [, ...check] = listIn(argumentOf('HEALTHCHECK'))
      const { port } = new URL(address)
      const healthy = () =>
        spawnSync(process.execPath, check, { ...options, env: { ...options.env, PORT: port } }).status
      expect(healthy()).toBe(0)
      child.kill('SIGTERM')
      while (child.exitCode === null) await wait(50)
      expect([child.exitCode, healthy()]).toEqual([0, 1])
    } finally {
      child.kill('SIGKILL')
    }
  },
  240_000,
)
