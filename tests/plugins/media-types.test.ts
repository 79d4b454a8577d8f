import { gzipSync } from 'node:zlib'
import { afterAll, describe, expect, test } from 'vitest'
import { testApp } from '../support/app.js'
import { likeOf } from '../support/documented.js'
import { expectProblem } from '../support/problem.js'
import { World } from '../support/world.js'

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

describe('another media type than the one of the operation, or none: 415 that names it', () => {
  const taken: ReadonlyArray<readonly [string, string]> = [
    ['/v1/vehicle-checks/batch', 'application/json'],
    ['/v1/vehicle-checks/batch/ndjson', 'application/x-ndjson'],
    ['/v1/odometers/track', 'application/json'],
    ['/v1/odometers/track/gpx', 'application/gpx+xml'],
    ['/v1/signals/log-analysis', 'application/json'],
    ['/v1/signals/log-analysis/csv?pulsesPerTurn=4', 'text/csv'],
  ]
  const others = ['application/ndjson', 'application/jsonl', 'text/plain', 'application/merge-patch+json']
  test.each(taken)('%s takes %s', async (url, mediaType) => {
    const detailOf = async (headers: Record<string, string>) => {
      const answer = await app.inject({ method: 'POST', url, headers, payload: '{}\n' })
      return expectProblem(answer, 415, 'unsupported-media-type').detail
    }
    const types = [...others, ...taken.map(([, other]) => other)].filter((other) => other !== mediaType)
    for (const type of types)
      expect(await detailOf({ 'content-type': type })).toBe(
        `The media type ${type} is not supported here; send ${mediaType}.`,
      )
    expect(await detailOf({})).toBe(`The body has no Content-Type; send ${mediaType}.`)
    expectProblem(await app.inject({ method: 'POST', url }), 415, 'unsupported-media-type')
  })
})

// Until 2026-11 application/json was taken as well, so that the document had two media types for one body.
describe('PATCH takes a merge patch only: 415 with Accept-Patch (RFC 5789, 2.2)', () => {
  const urls = ['/v1/vehicles/x', '/v1/parts/x', '/v1/vehicles/x/calibrations/y']
  test.each(urls)('%s', async (url) => {
    const { app: own, owner } = await World.make()
    for (const type of ['application/json', 'application/json-patch+json', 'text/plain']) {
      const answer = await owner('PATCH', url, '{"notes":"x"}', { 'content-type': type, 'if-match': '*' })
      const { detail } = expectProblem(likeOf(answer), 415, 'unsupported-media-type')
      expect(detail).toBe(`The media type ${type} is not supported here; send application/merge-patch+json.`)
      expect(answer.headers['accept-patch']).toBe('application/merge-patch+json')
    }
    await own.close()
  })
})
