import { expect, test } from 'vitest'
import { faultsOf, operations, type ResponseObject, readOpenApi } from '../support/contract.js'

// tests/docs/generated-pages.test.ts makes the calls anew: each example is what the service answers to the example beside the body.
const all = operations(readOpenApi())

/** Sheets to print and metrics, which their type shows. */
const BY_TYPE = /^(application\/pdf|text\/html|image\/svg\+xml|text\/plain.*)$/

type Media = NonNullable<ResponseObject['content']>[string]

const examplesOf = ({ example, examples = {} }: Media): unknown[] =>
  example === undefined ? Object.values(examples).map(({ value }) => value) : [example]

const mediaOf = (id: string, place: string, content: ResponseObject['content']) =>
  Object.entries(content ?? {}).map(([type, media]) => ({ name: `${id} ${place} ${type}`, type, media }))

const requests = all.flatMap(({ spec }) =>
  mediaOf(spec.operationId, 'request', spec.requestBody?.content as ResponseObject['content']),
)
const answers = all.flatMap(({ spec }) =>
  Object.entries(spec.responses)
    .filter(([status]) => status.startsWith('2'))
    .flatMap(([status, { content }]) => mediaOf(spec.operationId, status, content)),
)
const problems = all.flatMap(({ spec }) =>
  Object.entries(spec.responses)
    .filter(([status]) => !status.startsWith('2'))
    .flatMap(([status, { content }]) => mediaOf(spec.operationId, status, content)),
)

// Until 2026-11 none of 89 good answers had one: a mock server answered "string" and 0.
test('every body of a request and every good answer has an example beside its media type', () => {
  const expected = [...requests, ...answers].filter(({ type }) => !BY_TYPE.test(type))
  expect(expected.length).toBeGreaterThan(120)
  expect(expected.filter(({ media }) => examplesOf(media).length === 0).map(({ name }) => name)).toEqual([])
})

test('the usual problems have one', () => {
  const shown = new Set(
    problems.filter(({ media }) => examplesOf(media).length > 0).map(({ name }) => name.split(' ')[1]),
  )
  expect([...shown].sort()).toEqual(['400', '401', '404', '406', '412', '413', '415', '422'])
})

test('every example fits the schema beside it', () => {
  const faults = [...requests, ...answers, ...problems]
    .flatMap(({ name, media }) => examplesOf(media).map((example) => ({ name, media, example })))
    .flatMap(({ name, media, example }) =>
      faultsOf(media.schema!, example).map((fault) => `${name}: ${fault}`),
    )
  expect(faults).toEqual([])
})
