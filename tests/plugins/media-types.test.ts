import { gzipSync } from 'node:zlib'
import { afterAll, describe, expect, test } from 'vitest'
import { testApp } from '../support/app.js'
import { expectProblem } from '../support/problem.js'

const app = await testApp()
afterAll(() => app.close())

const BODY = '{"tire":{"size":"165R15"}}'

const send = (headers: Record<string, string>, payload: string | Buffer = BODY) =>
  app.inject({ method: 'POST', url: '/v1/tires/geometry', headers, payload })

describe('taken', () => {
  const taken = [
    'application/json',
    'application/json; charset=utf-8',
    'application/json;charset=UTF-8',
    'application/json; charset="utf-8"',
    'application/json; charset=utf8',
    'Application/JSON',
    'application/json; profile=x',
  ]
  for (const type of taken) {
    test(type, async () => expect((await send({ 'content-type': type })).statusCode).toBe(200))
  }
  test('Content-Encoding: identity', async () => {
    const headers = { 'content-type': 'application/json', 'content-encoding': 'identity' }
    expect((await send(headers)).statusCode).toBe(200)
  })
})

describe('not taken: 415', () => {
  const refused = [
    'text/plain',
    'text/json',
    'application/xml',
    'application/x-www-form-urlencoded',
    'multipart/form-data; boundary=x',
    'application/problem+json',
    'application/ld+json',
    'application/json-patch+json',
    'application/merge-patch+json',
    'application/jsonx',
    'application/json+x',
    'application/octet-stream',
    'application/x-ndjson',
    '*/*',
    'application/*',
    'json',
    'application/json, text/plain',
    'application/json; charset=utf-16',
    'application/json; charset=latin1',
    'application/json; charset="iso-8859-1"',
    'application/json; a=b; charset=utf-16',
    // Found 2026-11-25: only the first was looked at.
    'application/json; charset=utf-8; charset=utf-16',
  ]
  for (const type of refused) {
    test(type, async () => {
      expectProblem(await send({ 'content-type': type }), 415, 'unsupported-media-type')
    })
  }

  test('no Content-Type with a body', async () => {
    const problem = expectProblem(await send({}), 415, 'unsupported-media-type')
    expect(problem.detail).toContain('no Content-Type')
  })

  for (const encoding of ['gzip', 'br', 'deflate', 'gzip, identity', 'x-unknown']) {
    test(`Content-Encoding: ${encoding}`, async () => {
      const headers = { 'content-type': 'application/json', 'content-encoding': encoding }
      const problem = expectProblem(await send(headers, gzipSync(BODY)), 415, 'unsupported-media-type')
      expect(problem.detail).toContain(encoding)
    })
  }
})

describe('of another media type where several are taken: 415 that names them', () => {
  // It said to send application/json.
  test.each(['application/ndjson', 'application/jsonl', 'text/plain'])('a batch as %s', async (type) => {
    const problem = expectProblem(
      await app.inject({
        method: 'POST',
        url: '/v1/vehicle-checks/batch',
        headers: { 'content-type': type },
        payload: '{}\n',
      }),
      415,
      'unsupported-media-type',
    )
    expect(problem.detail).toBe(
      `The media type ${type} is not supported here; send application/json or application/x-ndjson.`,
    )
  })
})

describe('no body where several media types are taken: 415 that names them', () => {
  const addresses: Array<[string, string]> = [
    ['/v1/signals/log-analysis', 'text/csv'],
    ['/v1/odometers/track', 'application/gpx+xml'],
    ['/v1/vehicle-checks/batch', 'application/x-ndjson'],
  ]
  for (const [url, mediaType] of addresses) {
    test(url, async () => {
      const problem = expectProblem(await app.inject({ method: 'POST', url }), 415, 'unsupported-media-type')
      expect(problem.detail).toContain('application/json')
      expect(problem.detail).toContain(mediaType)
    })
  }
})
