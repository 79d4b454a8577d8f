import { type ChildProcess, spawn } from 'node:child_process'
import { randomUUID } from 'node:crypto'
import { copyFileSync, existsSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { createServer } from 'node:net'
import { join } from 'node:path'
import type { FastifyRequest } from 'fastify'
import { afterAll, afterEach, describe, expect, test } from 'vitest'
import { RequestProblem } from '../../src/http/request-problem.js'
import { clientOf, keyOf, testAppWithStore } from '../support/app.js'
import { tempFolder } from '../support/temp.js'

const root = join(import.meta.dirname, '../..')
const REFERENCE = 'SHOP/2031'

const closing: Array<() => Promise<unknown> | unknown> = []
afterEach(async () => {
  for (const close of closing.splice(0).reverse()) await close()
})

/** What a test does with the requests of its own. */
const watch = () => ({
  asked: [] as string[],
  before: async (_request: FastifyRequest): Promise<void> => {},
  answering: (_request: FastifyRequest): void => {},
  after: (_line: string): void => {},
})

// One service for all tests, each with an account of its own: the typesetter takes seconds to load.
const { app, store } = await testAppWithStore()
let watching = watch()
app.addHook('onRequest', (request) => watching.before(request))
app.addHook('onSend', async (request) => watching.answering(request))
app.addHook('onResponse', async ({ method, url }: FastifyRequest, { statusCode }) => {
  const line = `${method} ${decodeURIComponent(url.split('/').at(-1)!)} ${statusCode}`
  watching.asked.push(line)
  watching.after(line)
})
const address = await app.listen({ host: '127.0.0.1', port: 0 })
afterAll(() => app.close())

/** The listening service with the key of an editor of a new account, and a folder with one ticket. */
async function setUp() {
  const service = watch()
  watching = service
  const secret = (await keyOf(store, `shop ${randomUUID()}`))!.secret
  const folder = tempFolder()
  const ticket = join(folder, 'ticket.json')
  copyFileSync(join(root, 'examples/vehicles/pulse-ring-display.json'), ticket)
  return Object.assign(service, {
    store,
    secret,
    address,
    folder,
    ticket,
    client: clientOf(app, secret),
  })
}

interface Run {
  readonly code: number | null
  readonly output: string
}

function start(args: readonly string[], secret: string | undefined) {
  const { WHEEL_TO_DIAL_KEY: _, ...environment } = process.env
  // A copy in an empty folder: the script needs Node alone.
  const cwd = tempFolder()
  copyFileSync(join(root, 'examples/job-ticket.mjs'), join(cwd, 'job-ticket.mjs'))
  const child: ChildProcess = spawn(process.execPath, ['job-ticket.mjs', ...args], {
    cwd,
    env: secret === undefined ? environment : { ...environment, WHEEL_TO_DIAL_KEY: secret },
  })
  let output = ''
  for (const stream of [child.stdout!, child.stderr!]) stream.on('data', (chunk) => (output += chunk))
  const done = new Promise<Run>((resolve) => child.on('close', (code) => resolve({ code, output })))
  return { child, done }
}

const run = (args: readonly string[], secret: string | undefined) => start(args, secret).done

const change = (ticket: string, name: string) =>
  writeFileSync(ticket, JSON.stringify({ ...JSON.parse(readFileSync(ticket, 'utf8')), name }))

type Service = Awaited<ReturnType<typeof setUp>>

/** What somebody else does to the vehicle meanwhile. */
async function rename({ client }: Service, id: string, name: string) {
  const { status } = await client(
    'PATCH',
    `/v1/vehicles/${id}`,
    { name },
    {
      'if-match': '*',
      'content-type': 'application/merge-patch+json',
    },
  )
  expect(status).toBe(200)
}

/** The one vehicle of the ticket, and how many revisions it has. */
async function stored({ client }: Service) {
  const list = await client('GET', '/v1/vehicles')
  expect(list.body.vehicles).toHaveLength(1)
  const [vehicle] = list.body.vehicles
  const revisions = await client('GET', `/v1/vehicles/${vehicle.id}/revisions`)
  return { vehicle, revisions: revisions.body.revisions.length }
}

describe('examples/job-ticket.mjs', () => {
  test('creates the vehicle and writes its worksheet next to the ticket; a second run changes nothing', async () => {
    const service = await setUp()
    const { ticket, address, secret, folder, asked } = service
    const first = await run([ticket, address], secret)
    expect(first.output).toMatch(/^vehicle SHOP\/2031: [\da-f-]{36}, revision 1, new\nworksheet: .+\n$/)
    expect(first.code).toBe(0)
    expect(readFileSync(join(folder, 'ticket.worksheet.pdf'), 'latin1').slice(0, 5)).toBe('%PDF-')
    const second = await run([ticket, address], secret)
    expect(second.output).toBe(first.output.replace(', new', '').replace(/\n$/, ', unchanged\n'))
    expect(asked.slice(-2)).toEqual(['PUT SHOP/2031 200', 'GET worksheet 304'])
    expect(await stored(service)).toMatchObject({
      vehicle: { version: 1, reference: REFERENCE },
      revisions: 1,
    })
    expect(readdirSync(folder).sort()).toEqual([
      'ticket.json',
      'ticket.json.etag',
      'ticket.worksheet.pdf',
      'ticket.worksheet.pdf.etag',
    ])
  })

  test('a deleted or outdated worksheet is written again', async () => {
    const { ticket, address, secret, folder } = await setUp()
    const sheet = join(folder, 'ticket.worksheet.pdf')
    await run([ticket, address], secret)
    rmSync(sheet)
    expect((await run([ticket, address], secret)).output).toMatch(/^worksheet: .+\.pdf$/m)
    const before = readFileSync(sheet)
    change(ticket, 'Quillock Vanter with a new axle')
    expect((await run([ticket, address], secret)).output).toMatch(/^worksheet: .+\.pdf$/m)
    expect(readFileSync(sheet).equals(before)).toBe(false)
  })

  test('a changed ticket is a new revision of the same vehicle', async () => {
    const service = await setUp()
    const { ticket, address, secret } = service
    await run([ticket, address], secret)
    change(ticket, 'Quillock Vanter with a new axle')
    const { code, output } = await run([ticket, address], secret)
    expect(output).toContain('revision 2\n')
    expect(code).toBe(0)
    const { vehicle, revisions } = await stored(service)
    expect(vehicle.name).toBe('Quillock Vanter with a new axle')
    expect(revisions).toBe(2)
  })

  test('changes of somebody else are not overwritten without --replace', async () => {
    const service = await setUp()
    const { ticket, address, secret } = service
    await run([ticket, address], secret)
    const { vehicle } = await stored(service)
    await rename(service, vehicle.id, 'changed in the office')
    change(ticket, 'changed in the shop')
    const refused = await run([ticket, address], secret)
    expect(refused.output).toContain(
      'was changed by somebody else (revision "2", this ticket\'s was "1"). Nothing was changed.',
    )
    expect(refused.code).toBe(1)
    expect((await stored(service)).vehicle.name).toBe('changed in the office')
    const told = await run([ticket, address, '--replace'], secret)
    expect(told.output).toContain('revision 3')
    expect((await stored(service)).vehicle.name).toBe('changed in the shop')
  })

  test('a change between the two requests is detected: 412, and it stops', async () => {
    const service = await setUp()
    const { ticket, address, secret, asked } = service
    await run([ticket, address], secret)
    const { vehicle } = await stored(service)
    change(ticket, 'changed in the shop')
    asked.length = 0
    service.before = async ({ method, headers }) => {
      if (method !== 'PUT' || headers['if-match'] !== '"1"') return
      service.before = async () => {}
      await rename(service, vehicle.id, 'changed in the office')
    }
    const { code, output } = await run([ticket, address], secret)
    expect(asked.filter((line) => line.startsWith('PUT'))).toEqual([
      'PUT SHOP/2031 428',
      'PUT SHOP/2031 412',
      'PUT SHOP/2031 428',
    ])
    expect(output).toContain('was changed by somebody else (revision "2"')
    expect(code).toBe(1)
    expect((await stored(service)).vehicle.name).toBe('changed in the office')
  })

  test.each([
    ['when the vehicle is stored and nothing is answered yet', 'PUT'],
    ['when the worksheet is on its way', 'GET'],
  ])('killed %s and run again: one vehicle, the same revision, whole files', async (_, when) => {
    const service = await setUp()
    const { ticket, address, secret, folder } = service
    const { child, done } = start([ticket, address], secret)
    let killed = false
    service.answering = ({ method }) => {
      if (method === when) killed = child.kill('SIGKILL')
    }
    await done
    expect(killed).toBe(true)
    expect(existsSync(join(folder, 'ticket.worksheet.pdf'))).toBe(false)
    service.answering = () => {}
    const again = await run([ticket, address], secret)
    expect(again.output).toContain('revision 1\n')
    expect(again.code).toBe(0)
    expect(await stored(service)).toMatchObject({ vehicle: { version: 1 }, revisions: 1 })
    expect(readFileSync(join(folder, 'ticket.worksheet.pdf'), 'latin1').slice(0, 5)).toBe('%PDF-')
    expect(readFileSync(`${ticket}.etag`, 'utf8')).toBe('"1"')
  })

  test('a lost answer is requested again: one vehicle, one revision', async () => {
    const service = await setUp()
    const { ticket, address, secret, asked } = service
    service.answering = ({ method, raw }) => {
      if (method !== 'PUT') return
      service.answering = () => {}
      raw.socket.destroy()
    }
    const { code, output } = await run([ticket, address], secret)
    expect(output).toContain('revision 1\n')
    expect(code).toBe(0)
    // 200, not 201: the first try had stored it.
    expect(asked.slice(-2)).toEqual(['PUT SHOP/2031 200', 'GET worksheet 200'])
    expect(await stored(service)).toMatchObject({ revisions: 1 })
  })

  test('an invalid key, and a read-only key', async () => {
    const { ticket, address, store } = await setUp()
    const wrong = await run([ticket, address], 'no-such-key')
    expect(wrong.output).toMatch(/^vehicle SHOP\/2031 was not saved: 401 API key not valid: /)
    expect(wrong.code).toBe(1)
    const reader = (await keyOf(store, 'reading', 'reader'))!.secret
    expect((await run([ticket, address], reader)).output).toContain(
      '403 Insufficient role: This needs a key of role editor',
    )
    expect(existsSync(`${ticket}.etag`)).toBe(false)
  })

  test('a refused profile: the problem names the field', async () => {
    const { ticket, address, secret } = await setUp()
    writeFileSync(ticket, JSON.stringify({ ...JSON.parse(readFileSync(ticket, 'utf8')), topspeed: 1 }))
    const { code, output } = await run([ticket, address], secret)
    expect(output).toMatch(
      /was not saved: 400 Request does not match its schema: .*\n {2}#\/topspeed: is not allowed here; the fields here are .*topSpeed/,
    )
    expect(code).toBe(1)
  })

  test('a service that is down: five attempts, then a message', async () => {
    const { ticket, secret } = await setUp()
    // One server hangs up on whoever asks; at the other port there is none.
    let tries = 0
    const server = createServer((socket) => {
      tries++
      socket.once('data', () => socket.destroy())
    })
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve))
    closing.push(() => server.close())
    const { port } = server.address() as { port: number }
    const refusing = createServer()
    await new Promise<void>((resolve) => refusing.listen(0, '127.0.0.1', resolve))
    const { port: closedPort } = refusing.address() as { port: number }
    await new Promise((resolve) => refusing.close(resolve))
    const [hungUp, down] = await Promise.all(
      [port, closedPort].map((one) => run([ticket, `http://127.0.0.1:${one}`], secret)),
    )
    expect(tries).toBe(5)
    expect(hungUp!.output).toMatch(/did not answer \(\w+\) in 5 attempts/)
    expect(hungUp!.code).toBe(1)
    expect(down!.output).toContain('did not answer (ECONNREFUSED) in 5 attempts')
    expect(down!.code).toBe(1)
  })

  test('too many requests: it waits for Retry-After and continues', async () => {
    const service = await setUp()
    const { ticket, address, secret, asked } = service
    let refused = false
    service.before = async ({ method }) => {
      if (method !== 'GET' || refused) return
      refused = true
      throw new RequestProblem('rate-limited', 'Too many; go on in 1 s.', [], { 'retry-after': '1' })
    }
    const { code, output } = await run([ticket, address], secret)
    expect(output).toContain('worksheet: ')
    expect(code).toBe(0)
    expect(asked).toEqual(['PUT SHOP/2031 201', 'GET worksheet 429', 'GET worksheet 200'])
  })

  test('wrong usage exits with 2 and says what is missing', async () => {
    const { ticket, address, secret } = await setUp()
    expect(await run([], secret)).toEqual({ code: 2, output: expect.stringMatching(/^usage: /) })
    expect(await run([ticket, address, 'surplus'], secret)).toEqual({
      code: 2,
      output: expect.stringMatching(/^usage: /),
    })
    expect(await run(['--help'], undefined)).toEqual({ code: 0, output: expect.stringMatching(/^usage: /) })
    expect(await run([ticket, address], undefined)).toEqual({
      code: 2,
      output: expect.stringContaining('WHEEL_TO_DIAL_KEY'),
    })
    expect(await run([`${ticket}.none`, address], secret)).toEqual({
      code: 2,
      output: expect.stringContaining('cannot read'),
    })
    expect(await run([ticket, 'localhost:8080'], secret)).toEqual({
      code: 2,
      output: expect.stringMatching(
        /^localhost:8080 is not an address such as http:\/\/127\.0\.0\.1:8080\nusage: /,
      ),
    })
    writeFileSync(ticket, '{ "name": "no reference" }')
    expect(await run([ticket, address], secret)).toEqual({
      code: 2,
      output: expect.stringContaining('no reference'),
    })
    writeFileSync(ticket, '{')
    expect(await run([ticket, address], secret)).toEqual({
      code: 2,
      output: expect.stringContaining('is not JSON'),
    })
  })
})
