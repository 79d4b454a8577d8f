import fc from 'fast-check'
import { afterAll, describe, expect, test } from 'vitest'
import { testApp } from '../support/app.js'
import { arbitraryOf } from '../support/arbitrary.js'
import {
  answerSchema,
  documentValidator,
  jsonBody,
  type Operation,
  operations,
  parameterExamples,
  readOpenApi,
  requestExamples,
} from '../support/contract.js'

const document = readOpenApi()
const faultsOf = documentValidator(document)
const app = await testApp()
afterAll(() => app.close())

/** Calculations: nothing stored, no key. Stored things have their own suites. */
const calculations = operations(document).filter(
  ({ method, spec }) => method === 'POST' && !('security' in spec),
)
/** Reads that an empty store can answer: nothing stands under an id there. */
const lookups = operations(document).filter(
  ({ method, path, spec }) => method === 'GET' && !('security' in spec) && !path.includes('{id}'),
)

async function call(operation: Operation, body: unknown) {
  const response = await app.inject({
    method: operation.method,
    url: operation.path,
    headers: { 'content-type': 'application/json', accept: 'application/json' },
    payload: JSON.stringify(body),
  })
  const mediaType = String(response.headers['content-type'])
  const schema = answerSchema(operation, response.statusCode, mediaType)
  expect(
    schema,
    `${operation.path} answered ${response.statusCode} ${mediaType}, which is not in the document: ${response.body.slice(0, 300)}`,
  ).toBeDefined()
  expect(
    faultsOf(schema!, response.json()),
    `${operation.path} ${response.statusCode}: ${response.body.slice(0, 600)}`,
  ).toEqual([])
  return response
}

for (const operation of calculations) {
  const schema = jsonBody(operation)
  if (schema === undefined) continue
  describe(operation.spec.operationId, () => {
    const examples = requestExamples(document, operation)

    test('has an example', () => expect(examples.length).toBeGreaterThan(0))

    for (const [index, example] of examples.entries()) {
      test(`example ${index + 1} is valid and is answered as documented`, async () => {
        expect(faultsOf(schema, example)).toEqual([])
        const response = await call(operation, example)
        expect(response.statusCode, response.body.slice(0, 500)).toBe(200)
        const again = await call(operation, example)
        expect(again.body, 'same input, same answer, byte for byte').toBe(response.body)
      })
    }

    test('answers any valid body as documented, never with a 5xx', async () => {
      await fc.assert(
        fc.asyncProperty(arbitraryOf(document, schema), async (body) => {
          const response = await call(operation, body)
          expect([200, 422], response.body.slice(0, 500)).toContain(response.statusCode)
          expect(response.body).not.toContain('null')
        }),
        { numRuns: Number(process.env.FUZZ_RUNS ?? 100) },
      )
    })
  })
}

for (const operation of lookups) {
  test(`${operation.spec.operationId} is answered as documented for the examples of its parameters`, async () => {
    let url = operation.path
    const query: string[] = []
    for (const parameter of operation.spec.parameters ?? []) {
      const text = encodeURIComponent(String(parameterExamples(parameter)[0]))
      if (parameter.in === 'path') url = url.replace(`{${parameter.name}}`, text)
      if (parameter.in === 'query' && parameter.required === true) query.push(`${parameter.name}=${text}`)
    }
    const response = await app.inject({
      method: 'GET',
      url: query.length === 0 ? url : `${url}?${query.join('&')}`,
    })
    expect(response.statusCode, response.body.slice(0, 300)).toBe(200)
    const mediaType = String(response.headers['content-type'])
    const answer = answerSchema(operation, 200, mediaType)
    expect(answer).toBeDefined()
    expect(faultsOf(answer!, mediaType.startsWith('text/') ? response.body : response.json())).toEqual([])
  })
}
