import { readdirSync, readFileSync } from 'node:fs'
import { Writable } from 'node:stream'
import { pino } from 'pino'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { buildApp } from '../../src/app.js'
import { readConfig } from '../../src/config.js'
import { openSqliteStore } from '../../src/db/sqlite/sqlite-store.js'
import { clientOf, keyOf, newClient, socketClientOf, testAppWithStore } from '../support/app.js'
import { operations, readOpenApi } from '../support/contract.js'
import { handClock } from '../support/stores.js'
import { tempFolder } from '../support/temp.js'
import { aVehicle } from '../support/vehicles.js'

const clock = handClock()
const { app, store } = await testAppWithStore({}, clock)
afterAll(() => app.close())

const anonymous = clientOf(app, undefined)
const keyed = operations(readOpenApi()).filter(({ spec }) => 'security' in spec)

describe('every operation that needs a key', () => {
  test('there are some', () => expect(keyed.length).toBeGreaterThan(8))

  for (const { method, path, spec } of keyed) {
    test(`${spec.operationId} says 401 without one and with a wrong one`, async () => {
      const url = path.replaceAll(/\{\w+\}/g, '1')
      for (const client of [anonymous, clientOf(app, `wtd_${'x'.repeat(43)}`)]) {
        const answer = await client(method, url, method === 'GET' ? undefined : {})
        expect([answer.status, answer.headers['content-type']]).toEqual([
          401,
          expect.stringContaining('problem+json'),
        ])
        expect(answer.headers['www-authenticate']).toMatch(/^Bearer realm=/)
        expect(answer.headers['cache-control']).toBe('private, no-cache')
      }
    })

    if (method !== 'GET') {
      test(`${spec.operationId} says 403 to a reader`, async () => {
        const reader = await newClient(app, store, 'readers', 'reader')
        const answer = await reader(method, path.replaceAll(/\{\w+\}/g, '1'), {})
        expect([answer.status, answer.body.code]).toEqual([403, 'insufficient-role'])
      })
    }
  }
})

// Found 2026-11: answers to a key had no Cache-Control. RFC 9111, 5.2.2.7 and 5.2.2.4: stored by nobody else, and not used unasked.
test('an answer to a key is for its holder alone, and what needs none may be stored by anyone', async () => {
  const owner = await newClient(app, store, 'cached')
  const made = await owner('POST', '/v1/vehicles', aVehicle())
  const { location } = made.headers
  const read = await owner('GET', location!)
  const unchanged = await owner('GET', location!, undefined, { 'if-none-match': read.headers.etag! })
  const units = await owner('GET', '/v1/units')
  const answers = [made, read, unchanged, units]
  expect(answers.map(({ status, headers }) => [status, headers['cache-control']])).toEqual([
    [201, 'private, no-cache'],
    [200, 'private, no-cache'],
    [304, 'private, no-cache'],
    [200, 'private, no-cache'],
  ])
  expect((await anonymous('GET', '/v1/units')).headers).not.toHaveProperty('cache-control')
})

describe('a key', () => {
  test('is taken as Bearer, in any case, and in no other form', async () => {
    const { secret } = await keyOf(store, 'club')
    const ask = (authorization: string) => anonymous('GET', '/v1/vehicles', undefined, { authorization })
    for (const good of [`Bearer ${secret}`, `bearer ${secret}`, `BEARER  ${secret} `])
      expect((await ask(good)).status, good.slice(0, 8)).toBe(200)
    for (const bad of [
      secret,
      `Basic ${secret}`,
      `Bearer${secret}`,
      `Bearer ${secret} x`,
      'Bearer',
      'Bearer ',
    ]) {
      const answer = await ask(bad)
      expect([answer.status, answer.body.code]).toEqual([401, 'key-not-valid'])
    }
  })

  test('that is revoked or expired stops between two requests', async () => {
    const { secret, record } = await keyOf(store, 'club')
    const client = clientOf(app, secret)
    expect((await client('GET', '/v1/vehicles')).status).toBe(200)
    await store.keys.revoke('test', record.id)
    const revoked = await client('GET', '/v1/vehicles')
    expect([revoked.status, revoked.body.detail]).toEqual([401, 'The key was revoked.'])
    const short = await store.keys.create('test', {
      account: 'club',
      label: 'short',
      role: 'reader',
      expiresAtMs: clock() + 1000,
    })
    const shortly = clientOf(app, short!.secret)
    expect((await shortly('GET', '/v1/vehicles')).status).toBe(200)
    clock.advance(1000)
    expect((await shortly('GET', '/v1/vehicles')).body.detail).toBe('The key has expired.')
  })

  test('is not needed for a calculation, but a wrong one is not overlooked', async () => {
    expect((await anonymous('GET', '/v1/tires?size=165R13')).status).toBe(200)
    expect((await clientOf(app, 'wrong')('GET', '/v1/tires?size=165R13')).status).toBe(401)
  })
})

describe('rates', () => {
  let limited: Awaited<ReturnType<typeof testAppWithStore>>
  beforeAll(async () => {
    limited = await testAppWithStore({ RATE_PER_ADDRESS: '3', RATE_PER_KEY: '5' })
    return () => limited.app.close()
  })

  test('are counted per key, and told in RateLimit', async () => {
    const [one, two] = [
      await newClient(limited.app, limited.store, 'one'),
      await newClient(limited.app, limited.store, 'two'),
    ]
    for (let n = 4; n >= 0; n--) {
      const answer = await one('GET', '/v1/vehicles')
      expect(answer.status).toBe(200)
      expect(answer.headers['ratelimit-policy']).toBe('"key";q=5;w=60')
      expect(answer.headers.ratelimit).toMatch(new RegExp(`^"key";r=${n};t=\\d+$`))
    }
    const refused = await one('GET', '/v1/vehicles')
    expect([refused.status, refused.body.code]).toEqual([429, 'rate-limited'])
    expect(Number(refused.headers['retry-after'])).toBeGreaterThan(0)
    expect((await two('GET', '/v1/vehicles')).status).toBe(200)
  })

  // Until 2026-11 a log that takes seconds counted like a tire that takes microseconds.
  test('count what an operation may cost, as its contract and the answer say', async () => {
    const { app, store } = await testAppWithStore({ RATE_PER_ADDRESS: '60', RATE_PER_KEY: '25' })
    const [nobody, holder] = [clientOf(app, undefined), await newClient(app, store, 'one')]
    const trains = { ratio: 0.5, stages: 1 }
    const simulation = {
      pulses: { perKm: 4000 },
      profile: [
        { t: { s: 0 }, speed: { kmh: 36 } },
        { t: { s: 1 }, speed: { kmh: 36 } },
      ],
    }
    const long = await nobody('POST', '/v1/signals/simulation', simulation)
    expect([long.status, long.headers['ratelimit-policy']]).toEqual([200, '"address";q=60;w=60;weight=50'])
    expect(long.headers.ratelimit).toMatch(/^"address";r=10;t=/)
    const second = await nobody('POST', '/v1/signals/simulation', simulation)
    expect(second.status).toBe(429)
    expect(second.body.detail).toMatch(/^This one counts for 50 of the 60 requests a minute of one address/)
    const search = await nobody('POST', '/v1/gears/trains', trains)
    expect(search.headers['ratelimit-policy']).toBe('"address";q=60;w=60;weight=10')
    expect(search.headers.ratelimit).toMatch(/^"address";r=0;t=/)
    // A limit below the weight admits one all the same.
    const whole = await holder('POST', '/v1/signals/simulation', simulation)
    expect([whole.status, whole.headers['ratelimit-policy']]).toEqual([200, '"key";q=25;w=60;weight=25'])
    await app.close()
    const weights = operations(readOpenApi()).flatMap(({ spec }) => {
      const weight = (spec as { 'x-rate-weight'?: number })['x-rate-weight']
      return weight === undefined ? [] : [[spec.operationId, weight] as const]
    })
    expect(new Map(weights).get('simulateReading')).toBe(50)
    expect(new Map(weights).get('findTrains')).toBe(10)
  })

  test('are counted per address without a key: guesses and unknown addresses too', async () => {
    const from = (remoteAddress: string, authorization?: string, url = '/v1/vehicles') =>
      limited.app.inject({
        url,
        remoteAddress,
        headers: authorization === undefined ? {} : { authorization },
      })
    const guess = `Bearer wtd_${'x'.repeat(43)}`
    const statuses = []
    statuses.push((await from('192.0.2.1', guess)).statusCode)
    statuses.push((await from('192.0.2.1', undefined, '/v1/tires?size=165R13')).statusCode)
    statuses.push((await from('192.0.2.1', undefined, '/nowhere')).statusCode)
    statuses.push((await from('192.0.2.1', guess)).statusCode)
    statuses.push((await from('192.0.2.1', undefined, '/nowhere')).statusCode)
    expect(statuses).toEqual([401, 200, 404, 429, 429])
    expect((await from('192.0.2.2', guess)).statusCode).toBe(401)
    // One IPv6 customer has a whole /64: RFC 6177.
    for (let n = 1; n <= 3; n++) await from(`2001:db8::${n}`, guess)
    expect((await from('2001:db8::4', guess)).statusCode).toBe(429)
    expect((await from('2001:db8:0:1::1', guess)).statusCode).toBe(401)
  })
})

describe('secrets', () => {
  test('are in no log line, no answer and no byte of the database', async () => {
    const folder = tempFolder()
    const lines: string[] = []
    const stream = new Writable({
      write(chunk, _encoding, done) {
        lines.push(String(chunk))
        done()
      },
    })
    const file = `${folder}/canary.sqlite`
    const stored = openSqliteStore({ file, clock: Date.now })
    const loud = await buildApp({
      config: readConfig({}),
      store: stored,
      clock: Date.now,
      logger: pino({ level: 'trace' }, stream),
    })
    const { secret, record } = await keyOf(stored, 'club')
    // Through a socket: a request is logged where it comes in.
    const address = await loud.listen({ host: '127.0.0.1', port: 0 })
    const client = socketClientOf(address, secret)
    const made = await client('POST', '/v1/vehicles', aVehicle(), { 'idempotency-key': 'k1' })
    const answers = [
      made,
      await client('POST', '/v1/vehicles', aVehicle(), { 'idempotency-key': 'k1' }),
      await client('GET', '/v1/vehicles'),
      await client('GET', `/v1/vehicles/${made.body.id}/revisions`),
      await client('PUT', `/v1/vehicles/${made.body.id}`, aVehicle()),
      await client('PUT', `/v1/vehicles/${made.body.id}`, '{"a', { 'if-match': '*' }),
      await client('GET', '/v1/vehicles?limit=x'),
      await socketClientOf(address, `${secret}x`)('GET', '/v1/vehicles'),
    ]
    await stored.keys.revoke('test', record.id)
    answers.push(await client('GET', '/v1/vehicles'))
    expect(answers.map(({ status }) => status)).toEqual([201, 201, 200, 200, 428, 400, 400, 401, 401])
    const files = readdirSync(folder).map((name) => readFileSync(`${folder}/${name}`))
    expect(files.length).toBeGreaterThan(1)
    expect(lines.length).toBeGreaterThan(answers.length)
    const canary = secret.slice(4)
    expect(lines.filter((line) => line.includes(canary))).toEqual([])
    expect(answers.filter(({ text, headers }) => (text + JSON.stringify(headers)).includes(canary))).toEqual(
      [],
    )
    for (const bytes of files) {
      expect(bytes.includes(canary)).toBe(false)
      expect(bytes.includes(Buffer.from(canary, 'base64url'))).toBe(false)
    }
    // The canary is seen where it is: the search itself works.
    expect(Buffer.from(`x ${secret} y`).includes(canary)).toBe(true)
    await loud.close()
    await stored.close()
  })
})
