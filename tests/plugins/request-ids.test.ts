import { Writable } from 'node:stream'
import { setTimeout as wait } from 'node:timers/promises'
import { pino } from 'pino'
import { describe, expect, test, vi } from 'vitest'
import { buildApp } from '../../src/app.js'
import { readConfig } from '../../src/config.js'
import { openSqliteStore } from '../../src/db/sqlite/sqlite-store.js'
import { keyOf, testApp } from '../support/app.js'
import { expectProblem } from '../support/problem.js'
import { Connection, exchange, portOf } from '../support/raw.js'

describe('X-Request-Id', () => {
  test('is new for each request, on every answer, and the requestId of a problem', async () => {
    const app = await testApp()
    const answers = [await app.inject('/v1/units'), await app.inject('/v1/nothing'), await app.inject('/%zz')]
    const ids = answers.map(({ headers }) => headers['x-request-id'])
    expect(new Set(ids).size).toBe(3)
    for (const id of ids) expect(id).toMatch(/^[0-9a-f]{8}-[0-9a-z]+$/)
    expect(answers[1]!.json().requestId).toBe(ids[1])
    expect(answers[2]!.json().requestId).toBe(ids[2])
    await app.close()
  })

  const ask = async (id: string) => {
    const app = await testApp()
    const answer = await app.inject({ url: '/v1/nothing', headers: { 'x-request-id': id } })
    await app.close()
    expect(answer.json().requestId).toBe(answer.headers['x-request-id'])
    return answer.headers['x-request-id']
  }
  for (const id of ['7', 'a'.repeat(64), '0af7651916cd43dd8448eb211c80319c', 'club_1.2-3'])
    test(`is taken from the request: ${id}`, async () => expect(await ask(id)).toBe(id))
  for (const id of ['', 'a'.repeat(65), 'a b', 'a"b', '{"level":60}', 'a\u001b[2J', 'é', 'a,b'])
    test(`is not taken, and stands nowhere: ${JSON.stringify(id)}`, async () => {
      expect(await ask(id)).toMatch(/^[0-9a-f]{8}-[0-9a-z]+$/)
    })
})

test('a request is one line of log: id, method, route, status, duration; nothing that the caller wrote', async () => {
  const lines: string[] = []
  const stream = new Writable({
    write(chunk, _encoding, done) {
      lines.push(...String(chunk).trimEnd().split('\n'))
      done()
    },
  })
  const store = openSqliteStore({ file: ':memory:', clock: Date.now })
  const { secret } = await keyOf(store, 'club')
  const app = await buildApp({
    config: readConfig({ METRICS: 'open' }),
    store,
    clock: Date.now,
    logger: pino({ level: 'trace' }, stream),
  })
  const address = `http://127.0.0.1:${await portOf(app)}`
  lines.length = 0
  const headers = {
    authorization: `Bearer ${secret}`,
    'idempotency-key': 'canary-repeat',
    cookie: 'canary-cookie',
    'x-request-id': 'from-the-proxy',
  }
  for (const path of ['/problems/canary?canary=1', '/canary', '/metrics', '/readyz', '/livez'])
    await (await fetch(address + path, { headers })).text()
  await vi.waitFor(() => expect(lines).toHaveLength(5))
  const text = lines.join('\n')
  expect(text).not.toContain(secret)
  expect(text).not.toContain('canary')
  expect(lines.map((line) => JSON.parse(line))).toEqual(
    [
      ['/problems/:code', 400],
      ['(none)', 404],
      ['/metrics', 200],
      ['/readyz', 200],
      ['/livez', 200],
    ].map(([route, status]) =>
      expect.objectContaining({
        msg: 'request',
        requestId: 'from-the-proxy',
        method: 'GET',
        route,
        status,
        durationMs: expect.any(Number),
      }),
    ),
  )
  await app.close()
  await store.close()
})

/** An application with what it logs. */
async function loggedApp() {
  const lines: string[] = []
  const store = openSqliteStore({ file: ':memory:', clock: Date.now })
  const app = await buildApp({
    config: readConfig({}),
    store,
    clock: Date.now,
    logger: pino({ level: 'info' }, { write: (line) => lines.push(line) }),
  })
  app.addHook('onClose', () => store.close())
  return { app, lines }
}

// Found 2026-11: each was a line of level error, "request failed", with a stack: who uploads over a bad line looked like a fault of ours.
test.each([
  ['/v1/vehicle-checks', 'application/json', '{"name"'],
  ['/v1/signals/log-analysis/csv', 'text/csv', 'period'],
  ['/v1/odometers/track/gpx', 'application/gpx+xml', '<gpx '],
  ['/v1/vehicle-checks/batch/ndjson', 'application/x-ndjson', '{"name"'],
])('an upload to %s that its client breaks off is no error of the service', async (url, mediaType, text) => {
  const { app, lines } = await loggedApp()
  const connection = new Connection(await portOf(app))
  connection.write(
    `POST ${url} HTTP/1.1\r\nHost: x\r\nContent-Type: ${mediaType}\r\nContent-Length: 100\r\n\r\n${text}`,
  )
  await wait(50)
  connection.close()
  const logged = () => lines.map((line) => JSON.parse(line))
  while (!logged().some(({ route, status }) => route === url && status === 'aborted')) await wait(5)
  expect(logged().filter(({ level, err }) => level >= 40 || err !== undefined)).toEqual([])
  await app.close()
})

test('what is no request of HTTP has an id too, in the header, the body and the log', async () => {
  const { app, lines } = await loggedApp()
  const connection = await exchange(await portOf(app), 'nonsense\r\n\r\n')
  const answer = connection.answer()
  const { requestId } = expectProblem(answer, 400, 'malformed-http')
  expect(answer.headers['x-request-id']).toBe(requestId)
  expect(lines.map((line) => JSON.parse(line))).toContainEqual(
    expect.objectContaining({ requestId, status: 400, code: 'malformed-http', msg: 'no request' }),
  )
  await app.close()
})
