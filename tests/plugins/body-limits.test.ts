import { type TSchema, Type } from '@sinclair/typebox'
import { afterAll, describe, expect, test } from 'vitest'
import { longestJson } from '../../src/plugins/body-limits.js'
import { keyOf, testAppWithStore } from '../support/app.js'
import { expectProblem } from '../support/problem.js'

describe('the longest text of a schema', () => {
  const closed = (properties: Record<string, TSchema>) =>
    Type.Object(properties, { additionalProperties: false })

  // By hand: the characters of the longest text that each admits.
  test.each<[string, TSchema, number]>([
    ['false', Type.Boolean(), 'false'.length],
    ['a word of a list', Type.Unsafe({ type: 'string', enum: ['us', 'ticks'] }), '"ticks"'.length],
    ['text, escaped', Type.String({ maxLength: 2 }), String.raw`"\u00e9\u00e9"`.length],
    ['a list', Type.Array(Type.Boolean(), { maxItems: 3 }), '[false,false,false]'.length + 1],
    ['an object', closed({ on: Type.Boolean() }), '{"on":false}'.length + 1],
    ['the longer of two', Type.Union([Type.Boolean(), Type.Literal('neither')]), '"neither"'.length],
    ['text without end', closed({ a: Type.String() }), Number.POSITIVE_INFINITY],
    ['an open object', Type.Object({ a: Type.Boolean() }), Number.POSITIVE_INFINITY],
  ])('%s', (_, schema, length) => expect(longestJson(schema as object)).toBe(length))
})

describe('a body', () => {
  const served = testAppWithStore()
  afterAll(async () => (await served).app.close())
  const padded = async (bytes: number) =>
    (await served).app.inject({
      method: 'POST',
      url: '/v1/tires/geometry',
      headers: { 'content-type': 'application/json' },
      payload: '{"tire":{"size":"165R15"}}'.padEnd(bytes),
    })

  // Until 2026-11 a tire geometry took 1 MiB, which it cannot fill.
  test('of 64 KiB is taken for a tire, a byte more is not', async () => {
    expect((await padded(65_536)).statusCode).toBe(200)
    expectProblem(await padded(65_537), 413, 'body-too-large')
  })

  // Until 2026-11 a merge patch took 1 MiB, and these two 750 kB: 60 to 90 ms of hostile text.
  test.each([
    ['PATCH', '/v1/parts/:id', 65_536],
    // A profile of 50 notes and stages with every letter escaped.
    ['PATCH', '/v1/vehicles/:id', 180_000],
    ['POST', '/v1/cables/drag', 131_072],
    ['POST', '/v1/faults/next-test', 131_072],
  ] as const)('of %s %s is no longer than %d bytes', async (method, url, most) => {
    const { app, store } = await served
    const { secret } = await keyOf(store, 'club')
    const answer = await app.inject({
      method,
      url: url.replace(':id', '01890a5d-ac96-774b-bcce-b302099a8057'),
      headers: { 'content-type': 'application/json', authorization: `Bearer ${secret}` },
      payload: ' '.repeat(most + 1),
    })
    expect(answer.statusCode).toBe(413)
  })
})
