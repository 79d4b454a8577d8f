import { Readable } from 'node:stream'
import fc from 'fast-check'
import { afterAll, describe, expect, test } from 'vitest'
import { post, testApp } from '../support/app.js'
import { arbitraryOf } from '../support/arbitrary.js'
import { faultsOf, readOpenApi } from '../support/contract.js'
import { expectProblem } from '../support/problem.js'
import { aVehicle } from '../support/vehicles.js'

const URL = '/v1/vehicle-checks/batch/ndjson'
const JSON_URL = '/v1/vehicle-checks/batch'
const NDJSON = { 'content-type': 'application/x-ndjson' }

const document = readOpenApi()
const app = await testApp()
afterAll(() => app.close())

type Sent = string | Buffer | Readable

async function send(payload: Sent, to = app) {
  const response = await to.inject({ method: 'POST', url: URL, headers: NDJSON, payload })
  expect(response.statusCode, response.body.slice(0, 300)).toBe(200)
  expect(response.headers['content-type']).toBe('application/x-ndjson')
  expect(response.body.endsWith('\n')).toBe(true)
  const texts = response.body.slice(0, -1).split('\n')
  const lines = texts.map((text) => JSON.parse(text))
  for (const line of lines)
    expect(faultsOf({ $ref: '#/components/schemas/BatchAnswerLine' }, line)).toEqual([])
  const { summary } = lines.pop()
  texts.pop()
  return { lines, texts, summary }
}

const lineOf = (vehicle: unknown, ref?: string) => JSON.stringify({ ref, vehicle })
const GOOD = lineOf(aVehicle())

describe('each line gets the same answer as a single request', () => {
  // The line of a batch is the single call's body within another; the rest of both must be the same bytes.
  test('byte for byte, for random profiles', async () => {
    const profiles = fc.sample(arbitraryOf(document, { $ref: '#/components/schemas/VehicleProfile' }), {
      numRuns: Number(process.env.FUZZ_RUNS ?? 200),
      seed: 20261125,
    })
    const bodies = [aVehicle(), ...profiles].map((profile) => JSON.stringify(profile))
    const { texts, lines, summary } = await send(bodies.map((body) => `{"vehicle":${body}}\n`).join(''))
    let checked = 0
    for (const [index, payload] of bodies.entries()) {
      const alone = await app.inject({
        method: 'POST',
        url: '/v1/vehicle-checks',
        headers: { 'content-type': 'application/json' },
        payload,
      })
      if (alone.statusCode === 200) {
        checked++
        expect(texts[index]).toBe(`{"line":${index + 1},"ok":true,"result":${alone.body}}`)
      } else {
        expect(lines[index]).toMatchObject({ line: index + 1, ok: false })
        const { problem } = lines[index]
        const { errors = [], requestId: _, ...expected } = alone.json()
        expect(problem).toMatchObject(expected)
        for (const [at, fault] of errors.entries())
          expect(problem.errors[at]).toEqual({ ...fault, pointer: fault.pointer.replace('#', '#/vehicle') })
      }
    }
    expect(checked).toBeGreaterThan(0)
    expect(summary).toEqual({
      lines: bodies.length,
      blank: 0,
      ok: checked,
      failed: bodies.length - checked,
      complete: true,
    })
  })
})

describe('faults stay on their line', () => {
  const faulty: ReadonlyArray<readonly [string, string | Buffer, number, string, string | undefined]> = [
    ['no JSON', '{"vehicle":', 400, 'malformed-json', undefined],
    ['a key twice', '{"vehicle":{"name":"a","name":"b"}}', 400, 'duplicate-key', '#/vehicle/name'],
    ['nested too deep', `${'['.repeat(70)}${']'.repeat(70)}`, 400, 'nested-too-deep', undefined],
    ['bytes that are no UTF-8', Buffer.from([0x22, 0xff, 0x22]), 400, 'malformed-json', undefined],
    ['no object', '17', 400, 'invalid-request', '#'],
    ['null', 'null', 400, 'invalid-request', '#'],
    ['no vehicle', '{"ref":"x"}', 400, 'invalid-request', '#/vehicle'],
    ['a field too many', GOOD.replace('{', '{"extra":1,'), 400, 'invalid-request', '#/extra'],
    ['an empty ref', GOOD.replace('{', '{"ref":"",'), 400, 'invalid-request', '#/ref'],
    ['a bad ref', GOOD.replace('{', '{"ref":7,'), 400, 'invalid-request', '#/ref'],
    ['a fault in the vehicle', lineOf(aVehicle({ year: '1968' })), 400, 'invalid-request', '#/vehicle/year'],
    [
      'a vehicle that cannot be',
      lineOf(aVehicle({ tires: { front: { size: '165R13' }, rear: { size: 'round' } } })),
      422,
      'tire-size-not-understood',
      '#/vehicle/tires/rear/size',
    ],
    ['two vehicles on a line', `${GOOD}${GOOD}`, 400, 'malformed-json', undefined],
  ]
  for (const [name, text, status, code, pointer] of faulty) {
    test(name, async () => {
      const feed = Buffer.from('\n')
      const { lines, summary } = await send(
        Buffer.concat([Buffer.from(GOOD), feed, Buffer.from(text), feed, Buffer.from(GOOD)]),
      )
      expect(lines.map(({ line, ok }) => [line, ok])).toEqual([
        [1, true],
        [2, false],
        [3, true],
      ])
      const { problem } = lines[1]
      expect([problem.status, problem.code, problem.errors?.[0].pointer]).toEqual([status, code, pointer])
      expect(summary).toEqual({ lines: 3, blank: 0, ok: 2, failed: 1, complete: true })
    })
  }

  test('answers come in the order of the lines, each with its own ref, valid or not', async () => {
    const sent = Array.from({ length: 60 }, (_, index) =>
      index % 3 === 0
        ? `{"ref":"row ${index}","vehicle":{}}`
        : lineOf(aVehicle({ year: 1900 + index }), `row ${index}`),
    )
    const { lines } = await send(sent.join('\n'))
    expect(lines.map(({ line, ref, ok }) => [line, ref, ok])).toEqual(
      sent.map((_, index) => [index + 1, `row ${index}`, index % 3 !== 0]),
    )
  })

  test('an invalid ref is not returned', async () => {
    const { lines } = await send(`{"ref":${JSON.stringify('x'.repeat(201))}}\n{"ref":{}}\n"ref"\n`)
    for (const line of lines) expect(line).not.toHaveProperty('ref')
  })
})

describe('lines', () => {
  test('end in LF or CRLF, the last one optionally in nothing; a byte order mark and blank lines are skipped but counted', async () => {
    const { lines, summary } = await send(`\ufeff${GOOD}\r\n\r\n  \t\n${GOOD}\n\n${GOOD}`)
    expect(lines.map(({ line, ok }) => [line, ok])).toEqual([
      [1, true],
      [4, true],
      [6, true],
    ])
    expect(summary).toEqual({ lines: 6, blank: 3, ok: 3, failed: 0, complete: true })
  })

  test('may be absent', async () => {
    const none = { lines: 0, blank: 0, ok: 0, failed: 0, complete: true }
    expect((await send('')).summary).toEqual(none)
    expect((await send('\ufeff')).summary).toEqual({ ...none, lines: 1, blank: 1 })
    expect((await send('\n')).summary).toEqual({ ...none, lines: 1, blank: 1 })
  })

  test('may arrive byte by byte, split inside characters', async () => {
    const text = `${lineOf(aVehicle({ name: 'Grüße 😀 €' }), 'ä😀')}\r\n{"ref":"ß"`
    const whole = await send(text)
    const dripped = await send(Readable.from([...Buffer.from(text)].map((byte) => Buffer.of(byte))))
    const known = ({ texts }: typeof whole) => texts.map((one) => one.replace(/"requestId":"[^"]*"/, ''))
    expect(known(dripped)).toEqual(known(whole))
    expect(whole.lines[0]).toMatchObject({ ref: 'ä😀', ok: true })
  })
})

describe('limits', () => {
  test('a line that is too long is a problem of that line', async () => {
    const small = await testApp({ BATCH_LINE_BYTES: '2000' })
    const fits = GOOD.padEnd(2000)
    const { lines, summary } = await send(`${fits}\n${fits} \n${GOOD}\n${'x'.repeat(1_000_000)}`, small)
    expect(lines.map(({ ok, problem }) => (ok ? true : [problem.status, problem.code]))).toEqual([
      true,
      [413, 'line-too-long'],
      true,
      [413, 'line-too-long'],
    ])
    expect(summary).toEqual({ lines: 4, blank: 0, ok: 2, failed: 2, complete: true })
    await small.close()
  })

  test('up to the maximum number of lines are answered; one more ends the batch, as the summary reports', async () => {
    const small = await testApp({ BATCH_LINES: '3' })
    const exact = await send(`${GOOD}\n\n${GOOD}\n`, small)
    expect(exact.summary).toEqual({ lines: 3, blank: 1, ok: 2, failed: 0, complete: true })
    const over = await send(`${GOOD}\n\n${GOOD}\n${GOOD}`, small)
    expect(over.lines).toEqual(exact.lines)
    expect(over.summary).toEqual({ ...exact.summary, complete: false, reason: 'too-many-lines' })
    await small.close()
  })

  test('up to the maximum number of bytes are read; the line cut off there is not answered, however the body is split', async () => {
    const small = await testApp({ BATCH_BYTES: '1024' })
    const line = '{"ref":"x"}\n'
    const exact = line.repeat(85) + ' '.repeat(4)
    expect(Buffer.byteLength(exact)).toBe(1024)
    const stream = (text: string, size: number) =>
      Readable.from(text.match(new RegExp(`[^]{1,${size}}`, 'g'))!.map((part) => Buffer.from(part)))
    for (const size of [1, 7, 5000]) {
      expect((await send(stream(exact, size), small)).summary).toMatchObject({ lines: 86, complete: true })
      const over = await send(stream(exact + line, size), small)
      expect(over.summary).toEqual({
        lines: 85,
        blank: 0,
        ok: 0,
        failed: 85,
        complete: false,
        reason: 'too-many-bytes',
      })
    }
    await small.close()
  })

  test('a Content-Length above the limit is a 413 before anything is read', async () => {
    const small = await testApp({ BATCH_BYTES: '1024' })
    const response = await small.inject({
      method: 'POST',
      url: URL,
      headers: NDJSON,
      payload: 'x'.repeat(1025),
    })
    expect(expectProblem(response, 413, 'body-too-large').detail).toContain('1024')
    await small.close()
  })
})

describe('as JSON', () => {
  test('the vehicles of a list are answered in one object, with identical bytes', async () => {
    const alone = await app.inject({ method: 'POST', url: '/v1/vehicle-checks', payload: aVehicle() })
    const items = [JSON.parse(GOOD), { ref: 'b', vehicle: {} }, null, JSON.parse(lineOf(aVehicle(), 'd'))]
    const response = await app.inject({ method: 'POST', url: JSON_URL, payload: { vehicles: items } })
    expect(response.statusCode).toBe(200)
    expect(response.headers['content-type']).toBe('application/json; charset=utf-8')
    const body = response.json()
    expect(faultsOf({ $ref: '#/components/schemas/VehicleBatchAnswer' }, body)).toEqual([])
    expect(body.results.map(({ line, ref, ok }: Record<string, unknown>) => [line, ref, ok])).toEqual([
      [1, undefined, true],
      [2, 'b', false],
      [3, undefined, false],
      [4, 'd', true],
    ])
    expect(response.body).toContain(`{"line":1,"ok":true,"result":${alone.body}}`)
    expect(body.summary).toEqual({ lines: 4, blank: 0, ok: 2, failed: 2, complete: true })
  })

  const refused: ReadonlyArray<readonly [string, unknown, string]> = [
    ['no vehicles', {}, '#/vehicles'],
    ['an empty list', { vehicles: [] }, '#/vehicles'],
    ['more than 1000', { vehicles: Array(1001).fill(0) }, '#/vehicles'],
    ['a field too many', { vehicles: [0], more: 1 }, '#/more'],
    ['a bare list', [], '#'],
  ]
  for (const [name, body, pointer] of refused) {
    test(`${name} is a 400`, async () => {
      const problem = await post(app, JSON_URL, body)
      expect([problem.status, problem.body.code, problem.body.errors[0].pointer]).toEqual([
        400,
        'invalid-request',
        pointer,
      ])
    })
  }

  test('1000 are accepted', async () => {
    const { body } = await post(app, JSON_URL, { vehicles: Array(1000).fill({ ref: 'x' }) })
    expect(body.summary).toEqual({ lines: 1000, blank: 0, ok: 0, failed: 1000, complete: true })
  })
})

describe('the URL', () => {
  test('accepts no other media type, and no other URL accepts NDJSON', async () => {
    const text = {
      method: 'POST',
      url: URL,
      headers: { 'content-type': 'text/plain' },
      payload: GOOD,
    } as const
    expectProblem(await app.inject(text), 415, 'unsupported-media-type')
    expectProblem(await app.inject({ method: 'POST', url: URL }), 415, 'unsupported-media-type')
    for (const url of ['/v1/vehicle-checks', JSON_URL])
      expectProblem(
        await app.inject({ method: 'POST', url, headers: NDJSON, payload: GOOD }),
        415,
        'unsupported-media-type',
      )
  })

  test('answers other methods with 405', async () => {
    for (const method of ['GET', 'HEAD', 'PUT', 'DELETE', 'PATCH'] as const) {
      const response = await app.inject({ method, url: URL })
      expect(response.statusCode).toBe(405)
      expect(response.headers.allow).toBe('OPTIONS, POST')
    }
  })

  test('allows CORS requests from an admitted origin, with NDJSON too', async () => {
    const origin = 'https://club.example'
    const open = await testApp({ CORS_ORIGINS: origin })
    const preflight = await open.inject({
      method: 'OPTIONS',
      url: URL,
      headers: {
        origin,
        'access-control-request-method': 'POST',
        'access-control-request-headers': 'content-type',
      },
    })
    expect(preflight.statusCode).toBe(204)
    expect(preflight.headers).toMatchObject({
      'access-control-allow-origin': origin,
      'access-control-allow-headers': 'content-type',
    })
    expect(preflight.headers['access-control-allow-methods']).toContain('POST')
    const response = await open.inject({
      method: 'POST',
      url: URL,
      headers: { ...NDJSON, origin },
      payload: GOOD,
    })
    expect(response.statusCode).toBe(200)
    expect(response.headers['access-control-allow-origin']).toBe(origin)
    await open.close()
  })
})
