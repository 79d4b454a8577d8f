import { randomUUID } from 'node:crypto'
import { afterAll, beforeAll, beforeEach, expect, test, vi } from 'vitest'
import { buildApp } from '../../src/app.js'
import { readConfig } from '../../src/config.js'
import { openSqliteStore } from '../../src/db/sqlite/sqlite-store.js'
import { type Client, clientOf, keyOf, type TestApp } from '../support/app.js'
import { handClock } from '../support/stores.js'
import { aVehicle } from '../support/vehicles.js'

const HOUR_MS = 3_600_000
const DAY_MS = 24 * HOUR_MS
/** Requests a minute of one key. */
const RATE = 50
/** From a correction by seconds to a board that starts without a battery, in 1970, and back. */
const JUMPS = [
  -2_000,
  5_000,
  -HOUR_MS,
  HOUR_MS,
  -30 * DAY_MS,
  400 * DAY_MS,
  -20_000 * DAY_MS,
  20_000 * DAY_MS,
]

let clock: ReturnType<typeof handClock>
let app: TestApp
let client: Client
let store: ReturnType<typeof openSqliteStore>

beforeAll(async () => {
  clock = handClock()
  // Ids take the time of the system.
  vi.spyOn(Date, 'now').mockImplementation(() => clock())
  store = openSqliteStore({ file: ':memory:', clock })
  const config = readConfig({ RATE_PER_KEY: String(RATE), RATE_PER_ADDRESS: '50' })
  app = await buildApp({ config, store, clock })
}, 120_000)
afterAll(async () => {
  vi.restoreAllMocks()
  await app.close()
  await store.close()
})
beforeEach(async () => {
  client = clientOf(app, (await keyOf(store, randomUUID())).secret)
})

/** Moves the clock, not before 1970. */
function jump(ms: number): void {
  clock.advance(Math.max(ms, 1 - clock()))
}

const expectWithin = (value: string | undefined, low: number, high: number) => {
  expect(Number(value)).toBeGreaterThanOrEqual(low)
  expect(Number(value)).toBeLessThanOrEqual(high)
}

test('versions of a vehicle go on one by one, each change finds the last, whatever the clock does', async () => {
  const made = await client('POST', '/v1/vehicles', aVehicle())
  let { version } = made.body
  const path = `/v1/vehicles/${made.body.id}`
  const times = [made.body.createdAt]
  for (const ms of JUMPS) {
    jump(ms)
    const changed = await client('PUT', path, aVehicle({ notes: `${ms}` }), { 'if-match': `"${version}"` })
    expect([changed.status, changed.body.version], changed.text).toEqual([200, version + 1])
    version = changed.body.version
    times.push(changed.body.changedAt)
    expect((await client('GET', path)).body.version).toBe(version)
  }
  expect(times.every((time) => Number.isFinite(Date.parse(time)))).toBe(true)
  const { revisions } = (await client('GET', `${path}/revisions`)).body
  const versions = revisions.map((one: { version: number }) => one.version)
  expect(versions.toSorted((a: number, b: number) => a - b)).toEqual(
    Array.from({ length: JUMPS.length + 1 }, (_, index) => index + 1),
  )
  expect((await client('DELETE', path, undefined, { 'if-match': `"${version}"` })).status).toBe(204)
})

test('rates do not care: Retry-After is never below 1 or above 60, and the window ends in its minute', async () => {
  const elapsed = vi.spyOn(performance, 'now')
  for (const [index, ms] of JUMPS.entries()) {
    elapsed.mockReturnValue(index * 60_000)
    const statuses: number[] = []
    for (let n = 0; n < RATE + 5; n++) {
      if (n === RATE / 2) jump(ms)
      const answer = await client('GET', '/v1/vehicles?limit=1')
      statuses.push(answer.status)
      expectWithin(/t=(-?\d+)/.exec(answer.headers.ratelimit!)![1], 1, 60)
      if (answer.status === 429) expectWithin(answer.headers['retry-after'], 1, 60)
    }
    expect(statuses.filter((status) => status === 200)).toHaveLength(RATE)
    expect(statuses.filter((status) => status === 429)).toHaveLength(5)
  }
  elapsed.mockRestore()
})

test('a repeated request is answered again when the clock went back, and for a day when it goes on', async () => {
  const post = (key: string) => client('POST', '/v1/vehicles', aVehicle(), { 'idempotency-key': key })
  for (const ms of JUMPS.filter((one) => one < DAY_MS)) {
    const key = `key-${ms}`
    const first = await post(key)
    expect(first.status, first.text).toBe(201)
    jump(ms)
    const again = await post(key)
    expect([again.status, again.body.id, again.headers['idempotency-replayed']]).toEqual([
      201,
      first.body.id,
      'true',
    ])
  }
})

test('each vehicle is listed once, page by page, though ids were made while the clock jumped', async () => {
  const ids: string[] = []
  for (const ms of JUMPS) {
    for (let n = 0; n < 3; n++) ids.push((await client('POST', '/v1/vehicles', aVehicle())).body.id)
    jump(ms)
  }
  const listed: string[] = []
  let path = '/v1/vehicles?limit=5'
  for (;;) {
    clock.advance(30_000 * (listed.length % 2 === 0 ? -1 : 1))
    const { body, text } = await client('GET', path)
    expect(body.vehicles, text).toBeDefined()
    listed.push(...body.vehicles.map((one: { id: string }) => one.id))
    if (body.next === undefined) break
    path = `/v1/vehicles?limit=5&cursor=${body.next}`
  }
  expect(listed.toSorted()).toEqual(ids.toSorted())
})

test('a key that expires is refused after its time and taken before it, as the clock says', async () => {
  await store.accounts.create('test', 'short')
  const issued = await store.keys.create('test', {
    account: 'short',
    label: 'short',
    role: 'reader',
    expiresAtMs: clock() + HOUR_MS,
  })
  const short = clientOf(app, issued!.secret)
  const statuses: number[] = []
  for (const ms of [0, 2 * HOUR_MS, -2 * HOUR_MS, -DAY_MS]) {
    jump(ms)
    statuses.push((await short('GET', '/v1/vehicles')).status)
  }
  expect(statuses).toEqual([200, 401, 200, 200])
})
