import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { buildApp } from '../../src/app.js'
import { readConfig } from '../../src/config.js'
import { backupDatabase } from '../../src/db/sqlite/backup.js'
import { noteBackup } from '../../src/db/sqlite/health.js'
import { openSqliteStore } from '../../src/db/sqlite/sqlite-store.js'
import { StoreError } from '../../src/db/store/errors.js'
import type { HealthStore, Store } from '../../src/db/store.js'
import { MODEL } from '../../src/domain/model.js'
import { VERSION } from '../../src/version.js'
import { keyOf, testApp, testAppWithStore } from '../support/app.js'
import { expectProblem } from '../support/problem.js'
import { portOf } from '../support/raw.js'
import { handClock } from '../support/stores.js'
import { tempFolder } from '../support/temp.js'

/** A store with another answer to whoever watches. */
async function appWith(change: (health: HealthStore) => Partial<HealthStore>, clock = Date.now) {
  const inner = openSqliteStore({ file: ':memory:', clock })
  const store: Store = { ...inner, health: { ...inner.health, ...change(inner.health) } }
  const app = await buildApp({ config: readConfig({ RATE_PER_ADDRESS: '0' }), store, clock })
  app.addHook('onClose', () => store.close())
  return app
}

describe('GET /livez', () => {
  test('answers without a key, whatever the rate, and looks at nothing', async () => {
    const app = await testApp({ RATE_PER_ADDRESS: '1' })
    for (let n = 0; n < 5; n++) {
      const answer = await app.inject('/livez')
      expect([answer.statusCode, answer.json()]).toEqual([
        200,
        { alive: true, version: VERSION, model: MODEL },
      ])
      expect(answer.headers).not.toHaveProperty('ratelimit')
    }
    await app.close()
  })

  // Found 2026-11: 401 `key-not-valid`, and after a few 429: a monitor with an old key saw a service that was dead, and had it started anew.
  test.each(['/livez', '/readyz'])('%s answers whoever sends a key that is not valid, too', async (url) => {
    const app = await testApp({ RATE_PER_ADDRESS: '1' })
    for (let n = 0; n < 3; n++) {
      const answer = await app.inject({ url, headers: { authorization: `Bearer wtd_${'a'.repeat(43)}` } })
      expect(answer.statusCode).toBe(200)
    }
    await app.close()
  })
})

describe('GET /readyz', () => {
  test('names each check on a sound file', async () => {
    const store = openSqliteStore({ file: join(tempFolder(), 'a.sqlite'), clock: Date.now })
    const app = await buildApp({ config: readConfig({}), store, clock: Date.now })
    const answer = await app.inject('/readyz')
    expect(answer.statusCode).toBe(200)
    expect(answer.headers['cache-control']).toBe('no-store')
    const { ready, checks } = answer.json()
    expect(ready).toBe(true)
    expect(checks.map((check: { name: string }) => check.name)).toEqual([
      'open',
      'read',
      'write',
      'disk',
      'wal',
      'schema',
    ])
    expect(checks.every((check: { ok: boolean }) => check.ok)).toBe(true)
    await app.close()
    await store.close()
  })

  const FAILURES: ReadonlyArray<readonly [string, Partial<HealthStore>, RegExp]> = [
    [
      'a read that is refused',
      { read: () => Promise.reject(new StoreError('unavailable', 'SQLITE_IOERR in /var/secret.sqlite')) },
      /read: the store refuses/,
    ],
    [
      'a write that is refused',
      { write: () => Promise.reject(new StoreError('unavailable', 'SQLITE_FULL in /var/secret.sqlite')) },
      /write: the store refuses/,
    ],
    ['a write that never ends', { write: () => new Promise(() => {}) }, /write: did not end within 1000 ms/],
    [
      'a folder that cannot be looked at',
      { figures: () => Promise.reject(new Error('EACCES /var/secret.sqlite')) },
      /disk: cannot be looked at/,
    ],
    [
      'a disk that is nearly full',
      { figures: async () => ({ schemaVersion: 4, expectedSchemaVersion: 4, diskFreeBytes: 67_108_863 }) },
      /^Not ready\. disk: less than 64 MiB are free\.$/,
    ],
    [
      'a log that has grown beyond measure',
      { figures: async () => ({ schemaVersion: 4, expectedSchemaVersion: 4, walBytes: 536_870_913 }) },
      /^Not ready\. wal: more than 512 MiB wait to be written back\.$/,
    ],
    [
      'a file of another schema version',
      { figures: async () => ({ schemaVersion: 5, expectedSchemaVersion: 4 }) },
      /^Not ready\. schema: version 5, where this program works with 4\.$/,
    ],
  ]
  for (const [name, change, said] of FAILURES) {
    test(`is a 503 on ${name}, and tells no path`, async () => {
      const app = await appWith(() => change)
      const answer = await app.inject('/readyz')
      const { detail } = expectProblem(answer, 503, 'not-ready')
      expect(detail).toMatch(said)
      expect(answer.headers['retry-after']).toBe('1')
      expect(answer.body).not.toContain('secret')
      await app.close()
    })
  }

  test('is good up to the limits themselves', async () => {
    const app = await appWith(() => ({
      figures: async () => ({
        schemaVersion: 4,
        expectedSchemaVersion: 4,
        diskFreeBytes: 67_108_864,
        walBytes: 536_870_912,
      }),
    }))
    expect((await app.inject('/readyz')).statusCode).toBe(200)
    await app.close()
  })

  test('writes once in 5 s, however often it is asked, and again when the clock was set back', async () => {
    const clock = handClock()
    let writes = 0
    const app = await appWith(
      (health) => ({
        write: () => {
          writes++
          return health.write()
        },
      }),
      clock,
    )
    const ask = async () => expect((await app.inject('/readyz')).statusCode).toBe(200)
    await Promise.all([ask(), ask(), ask()])
    clock.advance(4_999)
    await ask()
    expect(writes).toBe(1)
    clock.advance(1)
    await ask()
    expect(writes).toBe(2)
    clock.advance(-60_000)
    await ask()
    expect(writes).toBe(3)
    await app.close()
  })

  test('is a 503 from startDraining() on, while everything else is answered', async () => {
    const app = await testApp()
    expect((await app.inject('/readyz')).statusCode).toBe(200)
    app.startDraining()
    expect(expectProblem(await app.inject('/readyz'), 503, 'not-ready').detail).toBe(
      'Not ready. open: the service is stopping.',
    )
    expect((await app.inject('/livez')).statusCode).toBe(200)
    expect((await app.inject('/v1/units')).statusCode).toBe(200)
    await app.close()
  })
})

/** Lines of the text format: name, labels, value. */
function read(text: string) {
  const values = new Map<string, number>()
  for (const line of text.split('\n')) {
    if (line === '' || line.startsWith('#')) continue
    // The grammar of a sample (Prometheus text format 0.0.4): name, labels in braces, a number.
    const sample = /^([a-zA-Z_:][\w:]*(?:\{(?:\w+="(?:[^"\\\n]|\\.)*",?)*\})?) (\S+)$/.exec(line)
    expect(sample, line).not.toBeNull()
    expect(values.has(sample![1]!), `${line} stands once`).toBe(false)
    values.set(sample![1]!, Number(sample![2]!.replace('Inf', 'Infinity')))
  }
  return values
}

const DURATION = 'http_server_request_duration_seconds'
const labels = (method: string, route: string, status: number) =>
  `http_request_method="${method}",http_route="${route}",http_response_status_code="${status}"`

describe('GET /metrics', () => {
  test('takes any valid key by default, no key with METRICS=open, and is nowhere with off', async () => {
    const { app, store } = await testAppWithStore({ RATE_PER_ADDRESS: '1', RATE_PER_KEY: '1' })
    expectProblem(await app.inject('/metrics'), 401, 'key-required')
    const { secret } = await keyOf(store, 'club', 'reader')
    for (let n = 0; n < 3; n++) {
      const answer = await app.inject({ url: '/metrics', headers: { authorization: `Bearer ${secret}` } })
      expect(answer.statusCode).toBe(200)
      expect(answer.headers['content-type']).toBe('text/plain; version=0.0.4; charset=utf-8')
      expect(answer.body).not.toContain(secret)
    }
    await app.close()

    const open = await testApp({ METRICS: 'open' })
    expect((await open.inject('/metrics')).statusCode).toBe(200)
    await open.close()

    const off = await testApp({ METRICS: 'off' })
    expectProblem(await off.inject('/metrics'), 404, 'not-found')
    await off.close()
  })

  test('counts requests by route, method and status, and never by what a caller wrote', async () => {
    const app = await testApp({ METRICS: 'open', RATE_PER_ADDRESS: '9' })
    const address = `http://127.0.0.1:${await portOf(app)}`
    const ask = async (path: string, method = 'GET', headers: Record<string, string> = {}) =>
      (await fetch(address + path, { method, headers })).text()
    await ask('/v1/units')
    await ask('/v1/units?secret-query=1')
    await ask('/problems/not-found')
    await ask('/problems/secret-code')
    await ask('/secret-path')
    await ask('/secret-path-2')
    await ask('/v1/units', 'DELETE')
    await ask('/v1/units', 'GET', { 'content-encoding': 'secret-coding' })
    await ask('/livez')
    for (let n = 0; n < 3; n++) await ask('/v1/units')
    const text = await ask('/metrics')
    expect(text).not.toContain('secret')
    const values = read(text)
    const count = (method: string, route: string, status: number) =>
      values.get(`${DURATION}_count{${labels(method, route, status)}}`)
    const limited = values.get('wheel_to_dial_requests_rate_limited_total')!
    expect(limited).toBeGreaterThan(0)
    expect(count('GET', '/v1/units', 429)).toBe(limited)
    expect(count('GET', '/v1/units', 200)).toBe(4 - limited)
    expect(count('GET', '/v1/units', 400)).toBe(1)
    expect(count('GET', '/v1/units', 415)).toBe(1)
    expect(count('DELETE', '/v1/units', 405)).toBe(1)
    expect(count('GET', '/problems/:code', 200)).toBe(1)
    expect(count('GET', '/problems/:code', 404)).toBe(1)
    expect(count('GET', '(none)', 404)).toBe(2)
    expect(count('GET', '/livez', 200)).toBe(1)
    expect(values.get('http_server_open_connections')).toBeGreaterThan(0)
    expect(values.get('wheel_to_dial_requests_shed_total')).toBe(0)
    // A histogram adds up: each class holds those below it, the last all of them.
    const buckets = [...values].filter(([name]) =>
      name.startsWith(`${DURATION}_bucket{${labels('GET', '/v1/units', 200)}`),
    )
    const counts = buckets.map(([, value]) => value)
    expect(counts).toEqual(counts.toSorted((a, b) => a - b))
    expect(buckets.at(-1)).toEqual([
      `${DURATION}_bucket{${labels('GET', '/v1/units', 200)},le="+Inf"}`,
      4 - limited,
    ])
    for (const name of [
      'process_resident_memory_bytes',
      'process_cpu_seconds_total',
      'nodejs_eventloop_lag_p99_seconds',
    ])
      expect(values.get(name), name).toBeGreaterThan(0)
    await app.close()
  })

  test('tells the sizes of the file and when it was last backed up', async () => {
    const file = join(tempFolder(), 'a.sqlite')
    const store = openSqliteStore({ file, clock: Date.now })
    const app = await buildApp({ config: readConfig({ METRICS: 'open' }), store, clock: Date.now })
    const metrics = async () => read((await app.inject('/metrics')).body)
    const before = await metrics()
    expect(before.get('wheel_to_dial_database_bytes')).toBeGreaterThanOrEqual(4096)
    expect(before.get('wheel_to_dial_wal_bytes')).toBeGreaterThan(0)
    expect(before.get('wheel_to_dial_disk_free_bytes')).toBeGreaterThan(0)
    expect(before.has('wheel_to_dial_backup_timestamp_seconds')).toBe(false)
    backupDatabase(file, join(tempFolder(), 'backup.sqlite'))
    expect(noteBackup(file, 1_764_000_000_500)).toBe(true)
    expect((await metrics()).get('wheel_to_dial_backup_timestamp_seconds')).toBe(1_764_000_000.5)
    await app.close()
    await store.close()
  })

  test('of two applications know nothing of each other', async () => {
    const one = await testApp({ METRICS: 'open' })
    const other = await testApp({ METRICS: 'open' })
    const port = await portOf(one)
    await (await fetch(`http://127.0.0.1:${port}/v1/units`)).text()
    expect((await one.inject('/metrics')).body).toContain('/v1/units')
    expect((await other.inject('/metrics')).body).not.toContain('/v1/units')
    await one.close()
    await other.close()
  })
})

test('noteBackup() leaves a file of an older schema as it is', () => {
  const file = join(tempFolder(), 'old.sqlite')
  writeFileSync(file, '')
  expect(noteBackup(file, 1)).toBe(false)
})
