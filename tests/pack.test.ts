import { spawn, spawnSync } from 'node:child_process'
import { once } from 'node:events'
import { mkdirSync, mkdtempSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest'
import { build } from './support/build.js'
import { tempFolder } from './support/temp.js'

const root = join(import.meta.dirname, '..')
const { version } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8'))
const MIB = 1024 ** 2

/** What runs or is read by who runs it; nothing of the development. */
const EXPECTED = [
  /^(package\.json|README\.md|LICENSE|CHANGELOG\.md)$/,
  /^docs\/(operations|settings)\.md$/,
  /^dist\/start\/[\w-]+\.(js|cjs|code)$/,
  /^dist\/start\/notices\.txt$/,
  /^migrations\/(postgres\/)?\d{4}_[a-z-]+\.sql$/,
  /^openapi\/openapi\.json$/,
  /^pages\/[\w-]+\.(html|css|js|svg)$/,
  /^examples\/(vehicles\/[\w-]+\.json|demo\/[\w-]+\.csv)$/,
]

interface Packed {
  readonly filename: string
  readonly size: number
  readonly unpackedSize: number
  readonly files: ReadonlyArray<{ readonly path: string; readonly mode: number }>
}

let packed: Packed
let folder: string
let program: string

beforeAll(() => {
  build()
  // Not a folder of tempFolder(), which is removed after one test.
  folder = mkdtempSync(join(tmpdir(), 'wheel-to-dial-pack-'))
  const made = spawnSync('npm', ['pack', '--json', '--pack-destination', folder], {
    cwd: root,
    encoding: 'utf8',
  })
  if (made.status !== 0) throw new Error(made.stderr)
  packed = JSON.parse(made.stdout)[0]
  spawnSync('tar', ['-xzf', packed.filename], { cwd: folder })
  // In place of npm install, which needs the registry.
  symlinkSync(join(root, 'node_modules'), join(folder, 'package/node_modules'), 'junction')
  program = join(folder, 'package/dist/start/wheel-to-dial.js')
  mkdirSync(join(folder, 'empty'))
}, 600_000)
afterAll(() => rmSync(folder, { recursive: true, force: true }))

const environment = () => ({
  ...process.env,
  PORT: '0',
  LOG_LEVEL: 'silent',
  DATABASE_FILE: join(tempFolder(), 'a.sqlite'),
})

/** Runs the packed program in an empty folder. */
const run = (args: readonly string[], env = environment(), input = '') => {
  const { status, stdout, stderr } = spawnSync(process.execPath, [program, ...args], {
    cwd: join(folder, 'empty'),
    encoding: 'utf8',
    env,
    input,
  })
  return { status, stdout, stderr }
}

let service: ReturnType<typeof spawn> | undefined
afterEach(() => {
  service?.kill('SIGKILL')
})

// Found 2026-11: npm pack packed the sources and tests, no build and no program.
describe('npm pack', () => {
  test('packs what runs, and nothing of the development', () => {
    const paths = packed.files.map(({ path }) => path)
    expect(paths.filter((path) => !EXPECTED.some((kind) => kind.test(path)))).toEqual([])
    expect(EXPECTED.filter((kind) => !paths.some((path) => kind.test(path)))).toEqual([])
  })

  test('takes at most 3 MiB, unpacked 10', () => {
    expect(packed.size).toBeLessThan(3 * MIB)
    expect(packed.unpackedSize).toBeLessThan(10 * MIB)
  })

  test('--version and --help name the program as it was installed', () => {
    expect(run(['--version']).stdout).toMatch(new RegExp(`^wheel-to-dial ${version}, computations \\d`))
    expect(run(['keys', '--help']).stdout).toMatch(/^ {2}wheel-to-dial keys list$/m)
  })

  test('check, demo, keys, backup and restore work in an empty folder', () => {
    const example = join(folder, 'package/examples/vehicles/cable-changed-axle.json')
    const checked = run(['check', '--short', '-'], environment(), readFileSync(example, 'utf8'))
    expect([checked.status, checked.stderr]).toEqual([3, ''])
    expect(checked.stdout).toMatch(/^speedometer: over-reads by 13\.8 ± 2\.7 %;/)

    const env = environment()
    const copy = join(tempFolder(), 'copy.sqlite')
    const steps = [['demo'], ['keys', 'list'], ['backup', copy], ['restore', copy]].map((args) =>
      run(args, env),
    )
    expect(steps.map(({ status, stderr }) => [status, stderr])).toEqual(Array(4).fill([0, '']))
    expect(steps[0]!.stdout).toContain('3 vehicles, 14 parts, 10 fits, 2 tire-sizes')
    expect(steps[0]!.stdout).toMatch(/^ {2}DATABASE_FILE=\S+ wheel-to-dial serve$/m)
    expect(steps[1]!.stdout).toMatch(/Teasel Valley Motor Club +admin +demo key +valid/)
    expect(steps[3]!.stdout).toMatch(/^ {2}vehicles: 3$/m)
  })

  test('says so where Node is too old', () => {
    const file = join(folder, 'package/package.json')
    const text = readFileSync(file, 'utf8')
    writeFileSync(file, text.replace(/(?<="node": ">=)[^"]*/, '99.1'))
    try {
      const { node } = process.versions
      const message = `Node ${node} is too old: wheel-to-dial needs Node 99.1 or later.\n`
      expect(run(['--version'])).toEqual({ status: 1, stdout: '', stderr: message })
    } finally {
      writeFileSync(file, text)
    }
  })

  test('serve answers, names the example where it is, and stops by SIGTERM', async () => {
    const started = spawn(process.execPath, [program, 'serve'], {
      cwd: join(folder, 'empty'),
      env: environment(),
    })
    service = started
    let printed = ''
    for await (const chunk of started.stdout.iterator({ destroyOnReturn: false })) {
      printed += chunk
      if (printed.includes('makes another')) break
    }
    expect(printed).toContain('wheel-to-dial keys create --account main --role reader   makes another.')
    const [, url, file] = /curl -s (\S+\/v1\/vehicle-checks) -H \S+ \S+ -d @(\S+)/.exec(printed)!
    const answer = await fetch(url!, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: readFileSync(file!),
    })
    expect([answer.status, answer.headers.get('server')]).toEqual([200, `wheel-to-dial/${version}`])
    const page = await fetch(new URL('/', url))
    expect(page.status).toBe(200)
    started.kill('SIGTERM')
    expect(await once(started, 'exit')).toEqual([0, null])
  })
})
