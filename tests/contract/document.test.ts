import { describe, expect, test } from 'vitest'
import { TAGS } from '../../src/plugins/openapi.js'
import { testApp } from '../support/app.js'
import { type OpenApi, operations, readOpenApi, type Schema } from '../support/contract.js'

const app = await testApp()
await app.ready()
const running = JSON.parse(JSON.stringify(app.swagger())) as OpenApi
const document = readOpenApi()

/** Every schema of the document with where it stands. */
function* schemas(value: unknown, path: string): Generator<[string, Schema]> {
  if (typeof value !== 'object' || value === null) return
  if (Array.isArray(value)) {
    for (const [index, item] of value.entries()) yield* schemas(item, `${path}/${index}`)
    return
  }
  const schema = value as Schema
  if (typeof schema.type === 'string') yield [path, schema]
  for (const [key, inner] of Object.entries(schema)) {
    if (key !== 'examples' && key !== 'example') yield* schemas(inner, `${path}/${key}`)
  }
}

const all = [...schemas({ paths: document.paths, components: document.components }, '')]

/** Component names that a request can reach. */
function requestComponents(): Set<string> {
  const seen = new Set<string>()
  const visit = (value: unknown): void => {
    if (typeof value !== 'object' || value === null) return
    for (const [key, inner] of Object.entries(value)) {
      if (key === '$ref' && typeof inner === 'string') {
        const name = inner.replace('#/components/schemas/', '')
        if (!seen.has(name)) {
          seen.add(name)
          visit(document.components.schemas[name])
        }
      } else visit(inner)
    }
  }
  for (const { spec } of operations(document)) {
    visit(spec.requestBody)
    visit(spec.parameters)
  }
  return seen
}

const requestPaths = [...requestComponents()].map((name) => `/components/schemas/${name}`)
const inRequest = (path: string) =>
  requestPaths.some((start) => path === start || path.startsWith(`${start}/`)) ||
  /\/(requestBody|parameters)\//.test(path)

/** A document without the examples beside its media types: those are bodies of calls, which no route says. */
const withoutExamples = (whole: OpenApi) =>
  JSON.parse(
    JSON.stringify(whole, (key, value) =>
      /^[a-z]+\/[a-z]/.test(key) && 'schema' in value
        ? { ...value, example: undefined, examples: undefined }
        : value,
    ),
  ) as OpenApi

describe('openapi/openapi.json', () => {
  test('is what the routes of the application say, and examples (npm run generate writes it)', () => {
    expect(withoutExamples(document)).toEqual(withoutExamples(running))
  })

  test('is given by the running application, and not again to whoever has it', async () => {
    const got = await app.inject('/openapi.json')
    expect([got.statusCode, got.headers['content-type'], got.json()]).toEqual([
      200,
      'application/json; charset=utf-8',
      document,
    ])
    const again = await app.inject({
      url: '/openapi.json',
      headers: { 'if-none-match': String(got.headers.etag) },
    })
    expect([again.statusCode, again.body]).toEqual([304, ''])
  })

  test('has an operationId, a summary, a description and a known tag for every operation, each id once', () => {
    const known = TAGS.map(({ name }) => name)
    const ids = operations(document).map(({ spec }) => spec.operationId)
    expect(ids.length).toBeGreaterThan(4)
    expect(new Set(ids).size).toBe(ids.length)
    for (const { spec, path } of operations(document)) {
      expect(spec.operationId, path).toMatch(/^[a-z][A-Za-z]+$/)
      expect(spec.summary, path).toBeTruthy()
      expect(spec.description, path).toBeTruthy()
      expect(known, path).toContain(spec.tags?.[0])
    }
  })

  // Until 2026-11 six operations took two. A client made from the document sends the first one, whatever its body is, or none:
  // POST /v1/signals/log-analysis with a table as application/json was answered 400 malformed-json.
  test('gives no operation two media types of a request', () => {
    const several = operations(document)
      .map(({ spec }) => [spec.operationId, ...Object.keys(spec.requestBody?.content ?? {})])
      .filter(([, ...mediaTypes]) => mediaTypes.length > 1)
    expect(several).toEqual([])
  })

  test('describes an error of the one shape for every operation', () => {
    for (const { spec, path } of operations(document)) {
      const errors = Object.entries(spec.responses).filter(([status]) => Number(status) >= 400)
      // It looks at nothing: a parameter too many is all that can be wrong.
      expect(errors.length, path).toBeGreaterThan(spec.operationId === 'getLiveness' ? 0 : 1)
      for (const [status, response] of errors) {
        expect(response.content?.['application/problem+json']?.schema, `${path} ${status}`).toEqual({
          $ref: '#/components/schemas/Problem',
        })
      }
    }
  })

  // Until 2026-11 each operation spelled out its own, 613 error responses of 14 kinds: the document was 1.39 MB in 42,803 lines.
  test('has every error response, and every parameter of more than one operation, once', () => {
    const written = Object.values(document.paths).flatMap((path) => Object.values(path))
    const errors = written.flatMap(({ responses }) =>
      Object.entries(responses).filter(([status]) => Number(status) >= 400),
    )
    expect(errors.length).toBeGreaterThan(600)
    expect(errors.filter(([, { $ref }]) => $ref === undefined)).toEqual([])
    const inline = written
      .flatMap(({ parameters = [] }) => parameters)
      .filter(({ $ref }) => $ref === undefined)
      .map((parameter) => JSON.stringify(parameter))
    expect(inline.filter((parameter, index) => inline.indexOf(parameter) !== index)).toEqual([])
  })

  test('names the errors that follow from what an operation takes', () => {
    const missing = operations(document).flatMap(({ method, spec }) => {
      const { operationId, responses, parameters = [], requestBody, security } = spec
      const takes = (where: string, name?: string) =>
        parameters.some((one) => one.in === where && (name === undefined || one.name === name))
      const forms = Object.keys(responses['200']?.content ?? {}).length
      const isProbe = operationId === 'getLiveness' || operationId === 'getReadiness'
      const expected: Array<[number, boolean]> = [
        [400, true],
        ...[401, 429, 500].map((status): [number, boolean] => [status, !isProbe]),
        [403, security !== undefined && method !== 'GET'],
        // What a caller names by a reference of its own is made when it is not there.
        [404, takes('path') && operationId !== 'putVehicleByReference'],
        [406, forms > 1],
        [409, takes('header', 'idempotency-key')],
        ...[412, 428].map((status): [number, boolean] => [status, takes('header', 'if-match')]),
        ...[413, 415].map((status): [number, boolean] => [status, requestBody !== undefined]),
        // Nothing that fits these schemas is impossible; what is wrong with a vehicle of a batch stands on its line.
        [
          422,
          requestBody !== undefined &&
            ![
              'computePulseScaling',
              'computeTotalDistance',
              'judgeCalibration',
              'checkVehicles',
              'checkVehicleLines',
            ].includes(operationId),
        ],
        [503, security !== undefined && operationId !== 'getMetrics'],
      ]
      return expected
        .filter(([status, applies]) => applies && !(String(status) in responses))
        .map(([status]) => `${operationId} ${status}`)
    })
    expect(missing).toEqual([])
  })

  test('gives every number a unit (UCUM) or says that it has none', () => {
    const bare = all
      .filter(([, schema]) => schema.type === 'number' || schema.type === 'integer')
      .filter(([, schema]) => (typeof schema['x-unit'] === 'string') === (schema['x-dimensionless'] === true))
      .map(([path]) => path)
    expect(bare).toEqual([])
  })

  test('bounds every list, and every number and text of a request', () => {
    const loose = all
      .filter(([path, schema]) => {
        if (schema.type === 'array') return schema.maxItems === undefined
        if (!inRequest(path)) return false
        if (schema.type === 'number' || schema.type === 'integer')
          return schema.minimum === undefined || schema.maximum === undefined
        return schema.type === 'string' && schema.enum === undefined && schema.maxLength === undefined
      })
      .map(([path]) => path)
    expect(loose).toEqual([])
  })

  test('closes every object of a request', () => {
    const open = all
      .filter(
        ([path, schema]) =>
          inRequest(path) && schema.type === 'object' && schema.additionalProperties !== false,
      )
      .map(([path]) => path)
    expect(open).toEqual([])
  })

  // Until 2026-11 a quarter of them said only what their quantity is: "A voltage above zero." for the amplitude of a sensor.
  test('describes every property where it stands, in other words than its quantity', () => {
    const ofShape = ({ $ref }: Schema) =>
      typeof $ref === 'string' ? document.components.schemas[$ref.split('/').at(-1)!]?.description : undefined
    const silent = all.flatMap(([path, schema]) =>
      Object.entries(schema.properties ?? {})
        .filter(([, inner]) => !inner.description || inner.description === ofShape(inner))
        .map(([key]) => `${path}/${key}`),
    )
    expect(silent).toEqual([])
  })
})
