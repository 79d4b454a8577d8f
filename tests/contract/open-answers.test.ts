import { expect, test } from 'vitest'
import { operations, readOpenApi, type Schema } from '../support/contract.js'

const document = readOpenApi()
const COMPONENT = '#/components/schemas/'

/** Every schema that a part of the document reaches, with its place. */
function reached(value: unknown, place: string, found = new Map<string, Schema>()): Map<string, Schema> {
  if (typeof value !== 'object' || value === null) return found
  const { $ref } = value as Schema
  const name = $ref?.startsWith(COMPONENT) ? $ref.slice(COMPONENT.length) : undefined
  if (name !== undefined && !found.has(name)) {
    found.set(name, document.components.schemas[name]!)
    reached(document.components.schemas[name], name, found)
  }
  if (typeof (value as Schema).type === 'string') found.set(place, value as Schema)
  for (const [key, inner] of Object.entries(value))
    if (key !== 'example' && key !== 'examples') reached(inner, `${place}/${key}`, found)
  return found
}

const all = operations(document)
const requested = reached(
  all.map(({ spec }) => [spec.requestBody, spec.parameters]),
  'request',
)
const answered = reached(
  all.map(({ spec }) => spec.responses),
  'answer',
)
const inRequest = (place: string) => requested.has(place.split('/')[0]!)

// Until 2026-11 answers were to gain fields and ids by docs/integrations.md, and the document closed 322 objects and a list of 85 sources.
test('an answer is open for fields, but for what a request sends too', () => {
  const objects = [...answered].filter(([, { type }]) => type === 'object')
  const closed = objects.filter(([, schema]) => schema.additionalProperties === false)
  expect(objects.length - closed.length).toBeGreaterThan(250)
  expect(closed.filter(([place]) => !inRequest(place)).map(([place]) => place)).toEqual([])
})

test('a list of ids of an answer is open, with the values known so far', () => {
  const { SourceId, Note } = document.components.schemas
  expect(SourceId).toMatchObject({ type: 'string', description: expect.stringContaining('may grow') })
  expect(SourceId!.enum).toBeUndefined()
  expect(SourceId!['x-extensible-enum']).toContain('definitions')
  // Complete lists stay: what a rule says of a dial has three outcomes, a note two levels.
  expect(document.components.schemas.Verdict!.properties!.result!.enum).toEqual([
    'conforms',
    'does-not-conform',
    'not-proven',
  ])
  expect(Note!.properties!.level!.enum).toEqual(['info', 'caution'])
  const lists = [...answered].filter(([, schema]) => schema['x-extensible-enum'] !== undefined)
  expect(lists.length).toBeGreaterThan(20)
  expect(lists.filter(([place, schema]) => inRequest(place) || schema.enum !== undefined)).toEqual([])
})

test('a request is closed', () => {
  const open = [...requested].filter(
    ([, schema]) =>
      schema['x-extensible-enum'] !== undefined ||
      (schema.type === 'object' && schema.additionalProperties !== false),
  )
  expect(open.map(([place]) => place)).toEqual([])
})
