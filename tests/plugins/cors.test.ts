import { afterAll, describe, expect, test } from 'vitest'
import { testApp } from '../support/app.js'
import { operationOf, readOpenApi, requestExamples } from '../support/contract.js'
import { expectProblem } from '../support/problem.js'
import { exchange, portOf } from '../support/raw.js'

const CLUB = 'https://club.example'
const OTHER = 'https://other.example'

const open = await testApp({ CORS_ORIGINS: `${CLUB}, http://localhost:5173` })
const closed = await testApp()
const everyone = await testApp({ CORS_ORIGINS: '*' })
afterAll(() => Promise.all([open.close(), closed.close(), everyone.close()]))

const preflight = (origin: string, method = 'POST') =>
  ({
    method: 'OPTIONS',
    url: '/v1/tires/geometry',
    headers: {
      origin,
      'access-control-request-method': method,
      'access-control-request-headers': 'content-type',
    },
  }) as const

const geometry = (origin: string, headers: Record<string, string>, payload: string) =>
  ({ method: 'POST', url: '/v1/tires/geometry', headers: { origin, ...headers }, payload }) as const

const json = { 'content-type': 'application/json' }

describe('an origin of the list', () => {
  for (const origin of [CLUB, 'http://localhost:5173']) {
    test(`${origin} may read answers`, async () => {
      const response = await open.inject({ url: '/v1/units', headers: { origin } })
      expect(response.statusCode).toBe(200)
      expect(response.headers['access-control-allow-origin']).toBe(origin)
      expect(response.headers.vary).toMatch(/origin/i)
      expect(response.headers['access-control-allow-credentials']).toBeUndefined()
    })
  }

  // Found 2026-11-29: Accept stood in the place of Origin, so that a shared cache could give one origin the leave of another.
  test('gets Vary: Origin also on an answer that varies by Accept', async () => {
    for (const id of ['makeWorksheet', 'computeDialScale', 'computeFirmwareConstants']) {
      const operation = operationOf(id)
      const url = operation.path
      const [payload] = requestExamples(readOpenApi(), operation)
      const response = await open.inject({
        method: 'POST',
        url,
        payload: payload as object,
        headers: { origin: CLUB },
      })
      expect(response.statusCode, url).toBe(200)
      expect(response.headers.vary, url).toMatch(/^origin, accept$/i)
    }
    for (const url of ['/', '/openapi.json'])
      expect((await open.inject({ url, headers: { origin: CLUB } })).headers.vary, url).toMatch(
        /^origin, accept-encoding$/i,
      )
  })

  test('may send a preflight request, which lists methods, headers and max-age', async () => {
    const response = await open.inject(preflight(CLUB))
    expect(response.statusCode).toBe(204)
    expect(response.headers).toMatchObject({
      'access-control-allow-origin': CLUB,
      'access-control-allow-methods': 'GET, HEAD, POST, PUT, PATCH, DELETE',
      'access-control-allow-headers': 'content-type',
      'access-control-max-age': '600',
    })
    expect(response.headers.vary).toMatch(/origin/i)
    expect(response.headers.allow).toBe('OPTIONS, POST')
  })

  // A page that may not read the answer sees nothing but "network error".
  const failures: ReadonlyArray<readonly [string, Record<string, string>, string, number, string]> = [
    ['a wrong field', json, '{"x":1}', 400, 'invalid-request'],
    ['no JSON', json, '{', 400, 'malformed-json'],
    ['a wrong media type', { 'content-type': 'text/plain' }, 'x', 415, 'unsupported-media-type'],
    [
      'a wrong charset',
      { 'content-type': 'application/json; charset=utf-16' },
      '{}',
      415,
      'unsupported-media-type',
    ],
    ['an encoding', { ...json, 'content-encoding': 'gzip' }, '{}', 415, 'unsupported-media-type'],
    ['too large a body', json, ' '.repeat(1_100_000), 413, 'body-too-large'],
    ['an impossible size', json, '{"tire":{"size":"FR70-14"}}', 422, 'tire-size-not-tabulated'],
  ]
  for (const [name, headers, payload, status, code] of failures) {
    test(`may read the failure of ${name}`, async () => {
      const response = await open.inject(geometry(CLUB, headers, payload))
      expectProblem(response, status, code)
      expect(response.headers['access-control-allow-origin']).toBe(CLUB)
    })
  }

  // Found 2026-11-25: those that no hook comes to could not be read.
  const addresses: ReadonlyArray<readonly [string, number, string]> = [
    ['/v1/tires/%zz', 400, 'malformed-url'],
    ['/v1/tires?size=%zz', 400, 'malformed-url'],
    [`/problems/${'a'.repeat(500)}`, 404, 'not-found'],
    ['/problems/no-such-code', 404, 'not-found'],
    ['/v1/vehicles', 401, 'key-required'],
    ['/v1/tires?size=FR70-14', 422, 'tire-size-not-tabulated'],
  ]
  for (const [url, status, code] of addresses) {
    test(`may read that ${url.slice(0, 40)} is a ${status}`, async () => {
      const response = await open.inject({ url, headers: { origin: CLUB } })
      expectProblem(response, status, code)
      expect(response.headers['access-control-allow-origin']).toBe(CLUB)
      expect(response.headers['access-control-expose-headers']).toContain('x-request-id')
      expect(response.headers.vary).toMatch(/origin/i)
      const other = await open.inject({ url, headers: { origin: OTHER } })
      expect(other.statusCode).toBe(status)
      expect(other.headers['access-control-allow-origin']).toBeUndefined()
      expect(other.headers.vary).toMatch(/origin/i)
      const any = await everyone.inject({ url, headers: { origin: OTHER } })
      expect(any.headers['access-control-allow-origin']).toBe('*')
      const none = await closed.inject({ url, headers: { origin: CLUB } })
      expect(none.headers['access-control-allow-origin']).toBeUndefined()
    })
  }

  test('may read that it asks too often, and when to go on', async () => {
    const limited = await testApp({ CORS_ORIGINS: CLUB, RATE_PER_ADDRESS: '1' })
    const ask = () => limited.inject({ url: '/v1/units', headers: { origin: CLUB } })
    await ask()
    const refused = await ask()
    expectProblem(refused, 429, 'rate-limited')
    expect(refused.headers['access-control-allow-origin']).toBe(CLUB)
    expect(refused.headers['access-control-expose-headers']).toContain('retry-after')
    await limited.close()
  })

  test('may read that a body did not arrive in time', async () => {
    const slow = await testApp({
      CORS_ORIGINS: CLUB,
      REQUEST_TIMEOUT_MS: '700',
      HEADERS_TIMEOUT_MS: '700',
    })
    const port = await portOf(slow)
    const head = (origin: string) =>
      `POST /v1/tires/geometry HTTP/1.1\r\nHost: x\r\nOrigin: ${origin}\r\nContent-Type: application/json\r\nContent-Length: 9\r\n\r\n{`
    const [own, other] = await Promise.all([exchange(port, head(CLUB)), exchange(port, head(OTHER))])
    expectProblem(own.answer(), 408, 'request-timeout')
    expect(own.answer().headers['access-control-allow-origin']).toBe(CLUB)
    expectProblem(other.answer(), 408, 'request-timeout')
    expect(other.answer().headers['access-control-allow-origin']).toBeUndefined()
    await slow.close()
  })

  test('may read 404 and 405', async () => {
    const missing = await open.inject({ url: '/v1/nothing', headers: { origin: CLUB } })
    expectProblem(missing, 404, 'not-found')
    expect(missing.headers['access-control-allow-origin']).toBe(CLUB)
    const method = await open.inject({ method: 'PUT', url: '/v1/units', headers: { origin: CLUB } })
    expectProblem(method, 405, 'method-not-allowed')
    expect(method.headers['access-control-allow-origin']).toBe(CLUB)
  })
})

describe('an origin that is not in the list', () => {
  for (const origin of [OTHER, `${CLUB}.evil.example`, 'http://club.example', `${CLUB}:444`, 'null', '*']) {
    test(`${origin} is answered without CORS headers`, async () => {
      for (const request of [{ url: '/v1/units', headers: { origin } }, preflight(origin)]) {
        const response = await open.inject(request)
        expect(response.statusCode).toBeLessThan(300)
        expect(response.headers['access-control-allow-origin']).toBeUndefined()
        expect(response.headers.vary).toMatch(/origin/i)
      }
    })
  }
})

describe('OPTIONS without a preflight request', () => {
  test('of an address names its methods', async () => {
    for (const app of [open, closed, everyone]) {
      const response = await app.inject({ method: 'OPTIONS', url: '/v1/units' })
      expect(response.statusCode).toBe(204)
      expect(response.headers.allow).toBe('GET, HEAD, OPTIONS')
    }
  })

  test('of an unknown path is a 404', async () => {
    for (const app of [open, closed, everyone]) {
      expectProblem(await app.inject({ method: 'OPTIONS', url: '/v1/nothing' }), 404, 'not-found')
    }
  })
})

test('without a list no origin gets CORS headers, and there is no Vary: Origin', async () => {
  for (const request of [{ url: '/v1/units', headers: { origin: CLUB } }, preflight(CLUB)]) {
    const { headers } = await closed.inject(request)
    expect(Object.keys(headers).filter((name) => name.startsWith('access-control'))).toEqual([])
    expect(headers.vary).toBeUndefined()
  }
})

test('* allows every origin, without credentials', async () => {
  const { headers } = await everyone.inject({ url: '/v1/units', headers: { origin: OTHER } })
  expect(headers['access-control-allow-origin']).toBe('*')
  expect(headers['access-control-allow-credentials']).toBeUndefined()
})
