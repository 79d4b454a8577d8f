import { type ChildProcess, spawn } from 'node:child_process'
import { once } from 'node:events'
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { Client } from 'undici'
import { afterAll, afterEach, beforeAll, describe, expect, test, vi } from 'vitest'
import { build } from './support/build.js'
import { tempFolder } from './support/temp.js'

const root = join(import.meta.dirname, '..')
const example = JSON.parse(readFileSync(join(root, 'examples/vehicles/cable-changed-axle.json'), 'utf8'))
const vehicle = { ...example, reference: undefined }

/** How long a start may take on a busy machine [ms]. */
const START_TIMEOUT_MS = 90_000

const children: ChildProcess[] = []
vi.setConfig({ testTimeout: 2 * START_TIMEOUT_MS })
beforeAll(build, 120_000)
const killAll = () => {
  for (const child of children.splice(0)) child.kill('SIGKILL')
}
afterEach(killAll)
afterAll(killAll)

/** The service as several processes. */
async function start(environment: Record<string, string> = {}) {
  const file = join(tempFolder(), 'a.sqlite')
  const child = spawn(process.execPath, ['dist/start/server.js'], {
    cwd: root,
    env: {
      ...process.env,
      PORT: '0',
      PROCESSES: '2',
      RATE_PER_ADDRESS: '0',
      SHED_AFTER_MS: '0',
      DATABASE_FILE: file,
      ...environment,
    },
  })
  children.push(child)
  const printed = { out: '', error: '' }
  child.stdout.on('data', (chunk) => {
    printed.out += chunk
  })
  child.stderr.on('data', (chunk) => {
    printed.error += chunk
  })
  const logged = () =>
    printed.out
      .split('\n')
      .filter((line) => line.startsWith('{'))
      .map((line) => JSON.parse(line))
  const pids = () =>
    logged().flatMap(({ msg, pid }) => (/^Server listening/.test(msg) ? [pid as number] : []))
  await vi.waitFor(
    () => {
      if (child.exitCode !== null) throw new Error(`the service ended: ${printed.error}`)
      expect(printed.out).toContain('makes another')
      expect(pids(), printed.out).toHaveLength(2)
    },
    { timeout: START_TIMEOUT_MS, interval: 20 },
  )
  const address = /listens on (\S+)\./.exec(printed.out)![1]!
  const secret = /wtd_[\w-]{43}/.exec(printed.out)![0]
  return { child, file, address, secret, printed, logged, pids, ended: once(child, 'exit') }
}

type Service = Awaited<ReturnType<typeof start>>

interface Ask {
  readonly method?: 'GET' | 'POST' | 'PUT' | 'DELETE'
  readonly path: string
  readonly body?: unknown
  readonly headers?: Record<string, string>
}

/** A keep-alive connection, which one process serves. */
class Caller {
  private readonly client: Client
  private readonly secret: string
  /** Identifies the process that answers: the first part of its request ids. */
  run = ''

  constructor({ address, secret }: Service) {
    this.client = new Client(address, { keepAliveTimeout: 60_000 })
    this.secret = secret
  }

  async ask({ method = 'GET', path, body, headers = {} }: Ask) {
    const answer = await this.client.request({
      method,
      path,
      headers: {
        authorization: `Bearer ${this.secret}`,
        ...(body === undefined ? {} : { 'content-type': 'application/json' }),
        ...headers,
      },
      ...(body === undefined ? {} : { body: JSON.stringify(body) }),
    })
    this.run = String(answer.headers['x-request-id']).split('-')[0]!
    return { status: answer.statusCode, headers: answer.headers, text: await answer.body.text() }
  }
}

/** A caller for each of two processes. */
async function callers(service: Service): Promise<[Caller, Caller]> {
  const one = new Caller(service)
  await one.ask({ path: '/livez' })
  for (let n = 0; n < 50; n++) {
    const other = new Caller(service)
    await other.ask({ path: '/livez' })
    if (other.run !== one.run) return [one, other]
  }
  throw new Error('one process answers everything')
}

const sizeRow = (size: string) => ({
  size,
  construction: 'diagonal',
  overallDiameter: { mm: 701 },
  source: 'Measured on the club rig',
})

describe('two processes of the service', () => {
  test('share a port and greet once', async () => {
    const service = await start()
    await callers(service)
    expect(service.printed.out.match(/listens on/g)).toHaveLength(1)
    expect(service.printed.out.match(/wtd_/g)).toHaveLength(2)
    expect(service.printed.error).toBe('')
  })

  test('see at once what the other has stored: vehicles and tire sizes', async () => {
    const service = await start()
    const [one, other] = await callers(service)
    for (let n = 0; n < 20; n++) {
      const made = await one.ask({ method: 'POST', path: '/v1/vehicles', body: vehicle })
      expect(made.status).toBe(201)
      expect((await other.ask({ path: String(made.headers.location) })).status).toBe(200)
      // Found 2026-11: another process used a recorded size only up to a second later.
      const size = `${n % 2 === 0 ? 'G' : 'H'}${50 + n}-15`
      const recorded = await one.ask({ method: 'POST', path: '/v1/tire-sizes', body: sizeRow(size) })
      expect(recorded.text).toContain(size)
      const tire = JSON.parse((await other.ask({ path: `/v1/tires?size=${size}` })).text)
      expect(JSON.stringify(tire)).toContain('701')
    }
  })

  test('carry out a repeated request once, whichever of them it comes to at the same moment', async () => {
    const service = await start()
    const pair = await callers(service)
    for (let n = 0; n < 20; n++) {
      const headers = { 'idempotency-key': `key-${n}` }
      const answers = await Promise.all(
        pair.map((caller) => caller.ask({ method: 'POST', path: '/v1/vehicles', body: vehicle, headers })),
      )
      const made = answers.filter(({ status }) => status === 201)
      expect(made.length).toBeGreaterThan(0)
      expect(new Set(made.map(({ text }) => text)).size).toBe(1)
      for (const { status } of answers) expect([201, 409]).toContain(status)
    }
    const all = JSON.parse((await pair[0].ask({ path: '/v1/vehicles?limit=200' })).text)
    expect(all.items ?? all.vehicles).toHaveLength(20)
  })

  test('let one of two changes of the same version through', async () => {
    const service = await start()
    const pair = await callers(service)
    const made = await pair[0].ask({ method: 'POST', path: '/v1/vehicles', body: vehicle })
    const path = String(made.headers.location)
    for (let version = 1; version <= 20; version++) {
      const answers = await Promise.all(
        pair.map((caller, index) =>
          caller.ask({
            method: 'PUT',
            path,
            body: { ...vehicle, notes: `${version} ${index}` },
            headers: { 'if-match': `"${version}"` },
          }),
        ),
      )
      expect(answers.map(({ status }) => status).sort()).toEqual([200, 412])
    }
  })

  test('refuse a revoked key with the next request', async () => {
    const service = await start()
    const pair = await callers(service)
    const list = await run(['dist/start/wheel-to-dial.js', 'keys', 'list'], service.file)
    for (const caller of pair) expect((await caller.ask({ path: '/v1/vehicles' })).status).toBe(200)
    const id = /[0-9a-f]{8}-[0-9a-f-]{27}/.exec(list)![0]
    await run(['dist/start/wheel-to-dial.js', 'keys', 'revoke', id], service.file)
    for (const caller of pair) expect((await caller.ask({ path: '/v1/vehicles' })).status).toBe(401)
  })

  test('count the requests of a caller together', async () => {
    const service = await start({ RATE_PER_KEY: '60' })
    const [one, other] = await callers(service)
    for (let n = 0; n < 40; n++) expect((await one.ask({ path: '/v1/vehicles' })).status).toBe(200)
    // Longer than the interval of the exchange.
    await wait(300)
    const { headers } = await other.ask({ path: '/v1/vehicles' })
    expect(headers.ratelimit).toMatch(/^"key";r=19;t=/)
    for (let n = 0; n < 19; n++) expect((await other.ask({ path: '/v1/vehicles' })).status).toBe(200)
    await wait(300)
    for (const caller of [one, other]) expect((await caller.ask({ path: '/v1/vehicles' })).status).toBe(429)
  })

  test('give the metrics of both together', async () => {
    const service = await start({ METRICS: 'open' })
    const [one, other] = await callers(service)
    for (let n = 0; n < 3; n++) await one.ask({ path: '/v1/units' })
    for (let n = 0; n < 4; n++) await other.ask({ path: '/v1/units' })
    for (const caller of [one, other]) {
      const { text } = await caller.ask({ path: '/metrics' })
      expect(text).toContain(
        'http_server_request_duration_seconds_count{http_request_method="GET",http_route="/v1/units",http_response_status_code="200"} 7',
      )
      expect(text).toMatch(/^process_start_time_seconds \d+/m)
      expect(text).toMatch(/^wheel_to_dial_database_bytes \d+/m)
    }
  })

  test('of which one is killed: the other goes on, and another takes its place', async () => {
    const service = await start()
    const pair = await callers(service)
    const victim = service.pids()[1]!
    process.kill(victim, 'SIGKILL')
    await vi.waitFor(() => expect(service.pids()).toHaveLength(3), { timeout: 30_000, interval: 50 })
    const answers = await Promise.allSettled(pair.map((caller) => caller.ask({ path: '/livez' })))
    expect(answers.some(({ status }) => status === 'fulfilled')).toBe(true)
    await callers(service)
    expect(service.logged()).toContainEqual(
      expect.objectContaining({ level: 50, ended: { pid: victim, code: null, signal: 'SIGKILL' } }),
    )
  })

  test('that are all killed leave no connection waiting: it is answered by a successor, or closed', async () => {
    const service = await start()
    const fresh = service.pids()
    for (const pid of fresh) process.kill(pid, 'SIGKILL')
    const outcomes = await Promise.all(
      Array.from({ length: 20 }, () =>
        fetch(`${service.address}/livez`, {
          signal: AbortSignal.timeout(20_000),
          headers: { connection: 'close' },
        }).then(
          ({ status }) => status,
          (error: Error) => error.name,
        ),
      ),
    )
    // TimeoutError: a client that waits for ever.
    for (const outcome of outcomes) expect([200, 'TypeError']).toContain(outcome)
  })

  test.each(['SIGTERM', 'SIGINT'] as const)(
    'stop by one %s, and answer what they have accepted',
    async (signal) => {
      const service = await start()
      const pair = await callers(service)
      const asked = pair.map((caller) =>
        caller.ask({ method: 'POST', path: '/v1/vehicles', body: vehicle }).then(({ status }) => status),
      )
      await wait(20)
      service.child.kill(signal)
      expect(await Promise.all(asked)).toEqual([201, 201])
      expect(await service.ended).toEqual([0, null])
      for (const pid of service.pids()) expect(() => process.kill(pid, 0)).toThrow('ESRCH')
      expect(service.printed.error).toBe('')
    },
  )

  test('stop when their supervisor is killed', async () => {
    const service = await start()
    service.child.kill('SIGKILL')
    await service.ended
    await vi.waitFor(
      () => {
        for (const pid of service.pids()) expect(() => process.kill(pid, 0)).toThrow('ESRCH')
      },
      { timeout: 10_000, interval: 50 },
    )
  })
})

describe('a service of several processes that cannot start', () => {
  test.each([
    [
      'PROCESSES=none',
      { PROCESSES: 'none' },
      'PROCESSES expected auto or a whole number from 1 to 256; got none',
    ],
    ['PROCESSES=0', { PROCESSES: '0' }, 'PROCESSES expected auto or a whole number from 1 to 256; got 0'],
    [
      'another setting',
      { PROCESSES: '2', PORT: 'none' },
      'PORT expected a whole number from 0 to 65535; got none',
    ],
    ['a file that is a folder', { PROCESSES: '2', DATABASE_FILE: root }, 'cannot be used: it is not a file'],
  ])('ends with status 1 and the reason: %s', async (_what, environment, reason) => {
    const child = spawn(process.execPath, ['dist/start/server.js'], {
      cwd: root,
      env: { ...process.env, PORT: '0', DATABASE_FILE: join(tempFolder(), 'a.sqlite'), ...environment },
    })
    children.push(child)
    let error = ''
    child.stderr.on('data', (chunk) => {
      error += chunk
    })
    expect((await once(child, 'close'))[0]).toBe(1)
    expect(error).toContain(reason)
  })
})

/** Runs a command on a database file. @returns What it prints */
async function run(args: readonly string[], file: string): Promise<string> {
  const child = spawn(process.execPath, args, { cwd: root, env: { ...process.env, DATABASE_FILE: file } })
  let out = ''
  child.stdout.on('data', (chunk) => {
    out += chunk
  })
  await once(child, 'close')
  return out
}
