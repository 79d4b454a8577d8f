import { type TSchema, Type } from '@sinclair/typebox'
import { afterAll, describe, expect, test } from 'vitest'
import { longestJson } from '../../src/plugins/body-limits.js'
import { testApp } from '../support/app.js'
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
  const app = testApp()
  afterAll(async () => (await app).close())
  const padded = async (bytes: number) =>
    (await app).inject({
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
})
