import { spawn } from 'node:child_process'
import { writeFileSync } from 'node:fs'
import { createServer, type RequestListener, type Server } from 'node:http'
import type { AddressInfo } from 'node:net'
import { join } from 'node:path'
import { parse } from 'csv-parse/sync'
import { afterAll, expect, test } from 'vitest'
import { testApp } from '../support/app.js'
import { tempFolder } from '../support/temp.js'
import { aVehicle } from '../support/vehicles.js'

const root = join(import.meta.dirname, '../..')
const app = await testApp()
const address = await app.listen({ port: 0 })
afterAll(() => app.close())

/** A tire that fits the dial: nothing is wrong with this one. */
const SOUND = aVehicle({
  tires: { front: { turns: { perMile: 760 } }, rear: { turns: { perMile: 760 } } },
  paths: [
    {
      name: 'speedometer',
      axle: 'rear',
      stages: [
        // 760 x 3.9 x 7 / 20 = 1037.4 turns a mile: 3.7 % over.
        { kind: 'final-drive', ring: 39, pinion: 10 },
        { kind: 'gear-pair', teeth: { driving: 7, driven: 20 } },
      ],
      head: { input: 'turns', constant: { perMile: 1000 }, unit: 'mph' },
    },
  ],
})
/** 760 x 3.7 x 7 / 20 = 984.2: reads 1.6 % low, which UN R39 forbids. */
const LOW = {
  ...SOUND,
  paths: [
    { ...SOUND.paths[0], stages: [{ kind: 'final-drive', ring: 37, pinion: 10 }, SOUND.paths[0]!.stages[1]] },
  ],
}

function fileOf(...lines: unknown[]): string {
  const file = join(tempFolder(), 'vehicles.ndjson')
  writeFileSync(
    file,
    lines.map((line) => (typeof line === 'string' ? line : JSON.stringify(line))).join('\n'),
  )
  return file
}

interface Run {
  readonly code: number | null
  readonly out: string
  readonly err: string
}

function start(...args: string[]) {
  const child = spawn(process.execPath, ['examples/check-many.mjs', ...args], { cwd: root })
  let out = ''
  let err = ''
  child.stdout.on('data', (chunk) => (out += chunk))
  child.stderr.on('data', (chunk) => (err += chunk))
  const done = new Promise<Run>((resolve) => child.on('close', (code) => resolve({ code, out, err })))
  return { child, done }
}

const run = (...args: string[]) => start(...args).done

/** A server of the test, that answers as it is told. */
async function serving<T>(listener: RequestListener, use: (address: string) => Promise<T>): Promise<T> {
  const server: Server = createServer(listener)
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve))
  try {
    return await use(`http://127.0.0.1:${(server.address() as AddressInfo).port}`)
  } finally {
    server.closeAllConnections()
    server.close()
  }
}

test('exits with 0 and reports no errors when there are none', async () => {
  const { code, out, err } = await run(fileOf({ vehicle: SOUND }, { vehicle: SOUND }), address)
  expect(err).toContain('2 checked, 0 not checked')
  expect([code, out]).toEqual([0, ''])
})

test('reports each error by line, ref and pointer, and each failing finding, as CSV; exits with 1', async () => {
  const file = fileOf({ ref: 'good', vehicle: SOUND }, { ref: 'low, "job 7"', vehicle: LOW }, 'nonsense', {
    ref: 'no name',
    vehicle: { ...SOUND, name: undefined },
  })
  const { code, out, err } = await run(file, address)
  expect(code).toBe(1)
  expect(err).toContain('2 checked, 2 not checked')
  const rows = parse(out, { columns: true }) as Array<Record<string, string>>
  expect(rows.map(({ line, ref, what, code: fault, pointer }) => [line, ref, what, fault, pointer])).toEqual([
    ['2', 'low, "job 7"', 'finding', 'rule-not-met', '#/paths/0'],
    ['2', 'low, "job 7"', 'finding', 'under-reads', '#/paths/0'],
    ['3', '', 'problem', 'malformed-json', ''],
    ['4', 'no name', 'problem', 'missing', '#/vehicle/name'],
  ])
  for (const { detail } of rows) expect(detail!.length).toBeGreaterThan(5)
})

test('reports errors immediately: Ctrl-C leaves the report so far, says where to continue, and exits with 2', async () => {
  const line = { line: 1, ref: 'a', ok: false, problem: { code: 'missing', detail: 'is required' } }
  const { code, out, err } = await serving(
    (request, response) => {
      request.resume()
      // The rest never comes.
      response.write(`${JSON.stringify(line)}\n`)
    },
    async (at) => {
      const { child, done } = start(fileOf({ vehicle: SOUND }, { vehicle: SOUND }), at)
      child.stdout.once('data', () => child.kill('SIGINT'))
      return done
    },
  )
  expect(out).toBe('line,ref,what,code,pointer,detail\n1,a,problem,missing,,is required\n')
  expect(err).toContain('continue after line 1')
  expect(code).toBe(2)
})

test('Ctrl-C while it waits for another attempt exits with 2', async () => {
  const { code, err } = await serving(
    (request, response) => {
      request.resume()
      response.writeHead(503, { 'retry-after': '60' }).end('{"detail":"busy"}')
    },
    async (at) => {
      const { child, done } = start(fileOf({ vehicle: SOUND }), at)
      child.stderr.once('data', () => child.kill('SIGINT'))
      return done
    },
  )
  expect([code, err]).toEqual([2, '503: busy; next attempt in 60.0 s\nstopped\n'])
})

test('checks the profiles of a folder, and names the file of each error', async () => {
  const folder = tempFolder()
  writeFileSync(join(folder, 'b good.json'), JSON.stringify(SOUND, undefined, 2).replaceAll('\n', '\r\n'))
  writeFileSync(join(folder, 'c low.json'), JSON.stringify(LOW, undefined, 2))
  writeFileSync(join(folder, 'a broken.json'), '{\n  "name": ')
  writeFileSync(join(folder, 'read me.txt'), 'no profile')
  const { code, out, err } = await run(folder, address)
  const rows = parse(out, { columns: true }) as Array<Record<string, string>>
  expect(rows.map(({ line, ref, code: fault }) => [line, ref, fault])).toEqual([
    ['1', 'a broken.json', 'malformed-json'],
    ['3', 'c low.json', 'rule-not-met'],
    ['3', 'c low.json', 'under-reads'],
  ])
  expect(err).toContain('2 checked, 1 not checked')
  expect(code).toBe(1)
})

test('a file or folder without a vehicle is a mistake: exits with 2', async () => {
  for (const source of [fileOf(), fileOf('', ''), tempFolder()]) {
    const { code, out, err } = await run(source, address)
    expect([code, out, err]).toEqual([2, '', `no vehicles in ${source}\n`])
  }
})

test('retries before the first answer', async () => {
  let asked = 0
  const { code, err } = await serving(
    (request, response) => {
      request.resume()
      if (++asked === 1) {
        response.writeHead(503, { 'content-type': 'application/problem+json', 'retry-after': '0' })
        response.end('{"detail":"busy"}')
      } else if (asked === 2) request.socket.destroy()
      else response.end('{"summary":{"lines":1,"blank":0,"ok":1,"failed":0,"complete":true}}\n')
    },
    (at) => run(fileOf({ vehicle: SOUND }), at),
  )
  expect([asked, code]).toEqual([3, 0])
  expect(err).toContain('503: busy; next attempt')
})

test('does not retry once an answer has begun; says where to continue, and exits with 2', async () => {
  let asked = 0
  const { code, err } = await serving(
    (request, response) => {
      asked++
      request.resume()
      response.write('{"line":1,"ok":true,"result":{"findings":[]}}\n', () => request.socket.destroy())
    },
    (at) => run(fileOf({ vehicle: SOUND }, { vehicle: SOUND }), at),
  )
  expect([asked, code]).toEqual([1, 2])
  expect(err).toContain('continue after line 1')
})

test('exits with 2 when the summary says that the rest was not checked', async () => {
  const small = await testApp({ BATCH_LINES: '1' })
  const { code, err } = await run(
    fileOf({ vehicle: SOUND }, { vehicle: SOUND }),
    await small.listen({ port: 0 }),
  )
  await small.close()
  expect(code).toBe(2)
  expect(err).toContain('not complete (too-many-lines): continue after line 1')
})

test('exits with 2 when the file is missing, or the address belongs to another service', async () => {
  expect((await run('none.ndjson', address)).code).toBe(2)
  const wrong = await run(fileOf('x'), `${address}/elsewhere`)
  expect([wrong.code, wrong.err]).toEqual([2, expect.stringContaining('404')])
  const page = await serving(
    (request, response) => {
      request.resume()
      response.writeHead(404).end('<html>')
    },
    (at) => run(fileOf('x'), at),
  )
  expect([page.code, page.err]).toEqual([2, '404: not an answer of this service\n'])
  const slip = await run(fileOf('x'), 'localhost:8080')
  expect([slip.code, slip.err]).toEqual([
    2,
    'localhost:8080 is not an address such as http://127.0.0.1:8080\n',
  ])
})
