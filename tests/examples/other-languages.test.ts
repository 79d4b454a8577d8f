import { spawn } from 'node:child_process'
import { cpSync, mkdirSync, writeFileSync } from 'node:fs'
import { createServer, type RequestListener } from 'node:http'
import type { AddressInfo } from 'node:net'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { testApp } from '../support/app.js'
import { hasProgram } from '../support/program.js'
import { tempFolder } from '../support/temp.js'
import { aVehicle } from '../support/vehicles.js'

const examples = join(import.meta.dirname, '../../examples')

const LANGUAGES = [
  {
    program: 'python3',
    folder: 'python',
    setting: 'REQUIRE_PYTHON',
    car: 'check_car.py',
    batch: 'check_folder.py',
  },
  {
    program: 'php',
    folder: 'php',
    setting: 'REQUIRE_PHP',
    car: 'check-car.php',
    batch: 'check-folder.php',
  },
]

const FORM = {
  size: '175/70R13',
  ring: '37',
  pinion: '9',
  driving: '6',
  driven: '20',
  constant: '1000',
  unit: 'mph',
}

describe.each(LANGUAGES)('examples/$folder', ({ program, folder, setting, car, batch }) => {
  const there = hasProgram(program, setting)
  let app: Awaited<ReturnType<typeof testApp>>
  let address: string
  beforeAll(async () => {
    app = await testApp()
    address = await app.listen({ host: '127.0.0.1', port: 0 })
  })
  afterAll(() => app.close())

  /** Runs a script of a copy of the folder, from an empty folder. */
  function run(script: string, args: readonly string[], at = address) {
    const copy = tempFolder()
    cpSync(join(examples, folder), copy, { recursive: true })
    const cwd = join(copy, 'empty')
    mkdirSync(cwd)
    const child = spawn(program, [join(copy, script), ...args], {
      cwd,
      env: { ...process.env, WHEEL_TO_DIAL: at },
    })
    let out = ''
    let err = ''
    child.stdout.on('data', (chunk) => (out += chunk))
    child.stderr.on('data', (chunk) => (err += chunk))
    return new Promise<{ code: number | null; out: string; err: string }>((resolve) =>
      child.on('close', (code) => resolve({ code, out, err })),
    )
  }
  const check = (change: Partial<typeof FORM> = {}, at = address) =>
    run(
      car,
      Object.entries({ ...FORM, ...change }).map(([name, value]) => `${name}=${value}`),
      at,
    )
  const folderOf = (files: Record<string, unknown>) => {
    const made = tempFolder()
    for (const [name, content] of Object.entries(files))
      writeFileSync(join(made, name), typeof content === 'string' ? content : JSON.stringify(content))
    return made
  }

  test.runIf(there)('casts the text of a form to numbers, and prints error and verdict', async () => {
    // 175/70R13: 13 x 25.4 + 2 x 122.5 mm, rolling 3.05 of it; 1609344 mm a mile by 37/9 and 6/20 of 1000 turns: 13.1 % over.
    const slope = ((1_609_344 / (3.05 * (13 * 25.4 + 2 * 175 * 0.7))) * 37 * 6) / 9 / 20 / 1000
    const { code, out, err } = await check()
    expect(err).toBe('')
    expect(out).toContain(`over-reads by ${(100 * (slope - 1)).toFixed(1)} % ± `)
    expect(out).toMatch(/^un-r39: not-proven$/m)
    expect(code).toBe(1)
    // A decimal with a point is a number too: 1131.4 - 50 = 1081.4 turns a mile, 50 / 1081.4 = 4.6 % over.
    const near = await check({ constant: (1000 * slope - 50).toFixed(1) })
    expect(near.out).toMatch(/^over-reads by 4\.6 %/)
  })

  test.runIf(there)(
    'refuses a decimal comma and other text by the name of the field, and sends nothing',
    async () => {
      for (const text of ['14,5', '1,000', '', 'ten', '1e3', '-9']) {
        const { code, out, err } = await check({ pinion: text }, 'http://127.0.0.1:1')
        expect([code, out]).toEqual([2, ''])
        expect(err).toBe(
          `pinion: ${text || 'nothing'} is not a number; write it like 14 or 14.5, with a point\n`,
        )
      }
    },
  )

  test.runIf(there)('prints what the service refuses by the names of the form', async () => {
    const { code, err } = await check({ pinion: '0', driven: '1001' })
    expect(err).toBe('pinion: expected 1 to 1000, got 0\ndriven: expected 1 to 1000, got 1001\n')
    expect(code).toBe(2)
    expect((await check({ size: '175/70R99' })).err).toMatch(/^size: ./)
  })

  test.runIf(there)('checks the profiles of a folder in one request', async () => {
    const profiles = folderOf({
      'a.json': aVehicle(),
      'b.json': { ...aVehicle(), name: undefined, topspeed: 1 },
    })
    const { code, out, err } = await run(batch, [profiles])
    expect(err).toBe('')
    const [first, ...rest] = out.trimEnd().split('\n')
    expect(first).toBe('a.json: not-proven')
    expect(rest.map((line) => line.split(': ').slice(0, 2)).sort()).toEqual([
      ['b.json', '#/vehicle/name'],
      ['b.json', '#/vehicle/topspeed'],
    ])
    expect(code).toBe(2)
    const broken = await run(batch, [folderOf({ 'a.json': '{' })])
    expect([broken.code, broken.out]).toEqual([2, ''])
    expect(broken.err).toMatch(/a\.json: /)
  })

  test.runIf(there)('waits as long as Retry-After says; says in one line that nothing answers', async () => {
    const times: number[] = []
    const listener: RequestListener = (request, response) => {
      request.resume()
      times.push(performance.now())
      if (times.length === 1) response.writeHead(429, { 'retry-after': '1' }).end('{"detail":"Too many."}')
      else response.writeHead(404).end('<html>')
    }
    const server = createServer(listener)
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve))
    const at = `http://127.0.0.1:${(server.address() as AddressInfo).port}`
    expect(await check({}, at)).toEqual({
      code: 2,
      out: '',
      err: `${at} answered 404, and not like this service\n`,
    })
    expect(times[1]! - times[0]!).toBeGreaterThan(990)
    server.closeAllConnections()
    server.close()
    const silent = await check({}, at)
    expect(silent.err).toMatch(new RegExp(`^${at} did not answer.*\\n$`))
    expect(silent.code).toBe(2)
  })

  test.runIf(there)('wrong arguments: says how it is used', async () => {
    for (const script of [car, batch]) {
      const { code, err } = await run(script, [])
      expect([code, err]).toEqual([2, expect.stringMatching(`^usage: ${program} ${script} `)])
    }
  })
})
