import { spawnSync } from 'node:child_process'
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest'
import { build } from './support/build.js'
import { tempFolder } from './support/temp.js'

const root = join(import.meta.dirname, '..')
const dist = join(root, 'dist')
let folder: string

beforeAll(build, 120_000)
beforeEach(() => {
  // Beside what was built: packages, migrations and pages are found from there.
  folder = mkdtempSync(join(dist, 'start-'))
  cpSync(join(dist, 'start'), folder, { recursive: true })
})
afterEach(() => rmSync(folder, { recursive: true, force: true }))

/** Starts the service, runs `then`, in which `address` is where it listens, and gives what was said and what `then` returned. */
function start(then: string) {
  const program = `
    const said = []
    console.log = (line) => said.push(line)
    const { started } = await import(${JSON.stringify(join(folder, 'server.js'))})
    const { script } = await import(${JSON.stringify(join(folder, 'load-program.js'))})
    await started
    const address = /listens on (\\S+)\\./i.exec(said.join())[1]
    const returned = await (async () => { ${then} })()
    process.stdout.write(JSON.stringify({ said, returned }), () => process.exit())`
  const { status, stdout, stderr } = spawnSync(process.execPath, ['--input-type=module', '-e', program], {
    encoding: 'utf8',
    // Packages and files are found from where the program is, not from where it is called.
    cwd: tempFolder(),
    env: {
      ...process.env,
      PORT: '0',
      LOG_LEVEL: 'silent',
      METRICS: 'open',
      SHED_AFTER_MS: '0',
      DATABASE_FILE: join(tempFolder(), 'start.sqlite'),
    },
  })
  expect({ status, stderr }).toEqual({ status: 0, stderr: '' })
  const { said, returned } = JSON.parse(stdout)
  return { said: said.join('\n') as string, returned }
}

/** Whether V8 refused the code that it was given; 'none' where it was given none. */
const REFUSED = "return script.cachedDataRejected ?? 'none'"

const change = (file: string, edit: (bytes: Buffer) => Buffer) =>
  writeFileSync(join(folder, file), edit(readFileSync(join(folder, file))))

function damaged(code: Buffer, place: number): Buffer {
  code[place]! ^= 0xff
  return code
}

describe('a start', () => {
  test('uses the code cache of the build', () => {
    const { said, returned } = start(REFUSED)
    expect(returned).toBe(false)
    expect(said).toContain('wheel-to-dial listens on http://127.0.0.1:')
  })

  test('leaves for later what can then be loaded: metrics, threads, the typesetter', () => {
    const simulation = JSON.parse(readFileSync(join(root, 'openapi/openapi.json'), 'utf8')).components.schemas
      .SimulationRequest.examples[0]
    const vehicle = readFileSync(join(root, 'examples/vehicles/cable-changed-axle.json'), 'utf8')
    const { returned } = start(`
      const post = (path, accept, body) => fetch(address + path, {
        method: 'POST', headers: { 'content-type': 'application/json', accept }, body,
      })
      const answers = [
        await fetch(address + '/metrics'),
        await post('/v1/signals/simulation', '*/*', ${JSON.stringify(JSON.stringify(simulation))}),
        await post('/v1/vehicle-checks/worksheet', 'application/pdf', ${JSON.stringify(vehicle)}),
      ]
      return Promise.all(answers.map(async (answer) => [answer.status, (await answer.text()).slice(0, 5)]))`)
    expect(returned).toEqual([
      [200, '# HEL'],
      [200, '{"pul'],
      [200, '%PDF-'],
    ])
  })

  test('of another source of the same length does not use it', () => {
    change('service.cjs', (bytes) => Buffer.from(`${bytes}`.replace(' listens on ', ' LISTENS ON ')))
    const { said, returned } = start(REFUSED)
    expect(returned).toBe('none')
    expect(said).toContain('wheel-to-dial LISTENS ON http://127.0.0.1:')
  })

  const DAMAGE: ReadonlyArray<readonly [string, (code: Buffer) => Buffer]> = [
    ['with a wrong byte', (code) => damaged(code, code.length >> 1)],
    ['with a wrong checksum', (code) => damaged(code, code.length - 1)],
    ['without its end', (code) => code.subarray(0, -1000)],
    ['of two bytes', (code) => code.subarray(0, 2)],
    ['of none', (code) => code.subarray(0, 0)],
  ]
  for (const [what, edit] of DAMAGE) {
    test(`does not use a code cache ${what}`, () => {
      change('service.code', edit)
      expect(start(REFUSED).returned).toBe('none')
    })
  }

  test('works without a code cache', () => {
    rmSync(join(folder, 'service.code'))
    expect(start(REFUSED).returned).toBe('none')
  })
})
