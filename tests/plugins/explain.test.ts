import fc from 'fast-check'
import { afterAll, describe, expect, test } from 'vitest'
import { pointerFragment, pointerPart } from '../../src/border/pointer.js'
import { testApp } from '../support/app.js'
import { arbitraryOf } from '../support/arbitrary.js'
import {
  documentValidator,
  jsonBody,
  type Operation,
  operations,
  readOpenApi,
  requestExamples,
  resolve,
  type Schema,
} from '../support/contract.js'
import { expectProblem } from '../support/problem.js'

const document = readOpenApi()
const faultsOf = documentValidator(document)
const app = await testApp()
afterAll(() => app.close())

interface Mutation {
  readonly what: string
  readonly body: unknown
  /** Places, any of which names the fault exactly. */
  readonly at: readonly string[]
}

/** The branch of a union that a value follows; the schema itself where it is no union. */
function branchOf(given: Schema, value: unknown): { schema: Schema; chosen: boolean } {
  const schema = resolve(document, given)
  if (!Array.isArray(schema.anyOf)) return { schema, chosen: false }
  const branch = (schema.anyOf as Schema[]).find((one) => faultsOf(one, value).length === 0)
  if (branch === undefined) throw new Error(`no branch takes ${JSON.stringify(value)}`)
  return { schema: branchOf(branch, value).schema, chosen: true }
}

/** True for a choice between an object and a list: one in place of the other is no fault of type. */
function takesBoth(given: Schema): boolean {
  const schema = resolve(document, given)
  const types = ((schema.anyOf as Schema[] | undefined) ?? []).map((branch) => resolve(document, branch).type)
  return types.includes('object') && types.includes('array')
}

/** A value of a type that a schema does not take, where its type leaves one. */
function otherType(given: Schema, value: unknown): unknown {
  if (takesBoth(given)) return true
  if (typeof value === 'number') return String(value)
  if (typeof value === 'string') return 12345
  if (typeof value === 'boolean') return String(value)
  return Array.isArray(value) ? { 0: 'not a list' } : ['not an object']
}

const UNKNOWN = 'no~such/field %'

/** Every way of spoiling one place of a valid body, with the pointer that must name it. */
function* mutations(
  given: Schema,
  value: unknown,
  rebuild: (changed: unknown) => unknown,
  path = '',
): Generator<Mutation> {
  const { schema, chosen } = branchOf(given, value)
  yield { what: `null at ${path}`, body: rebuild(null), at: [path] }
  yield { what: `another type at ${path}`, body: rebuild(otherType(given, value)), at: [path] }
  if (Array.isArray(value)) {
    for (const [index, item] of value.entries()) {
      yield* mutations(
        schema.items as Schema,
        item,
        (changed) => rebuild(value.with(index, changed)),
        path + pointerPart(index),
      )
    }
    return
  }
  if (typeof value !== 'object' || value === null) return
  const object = value as Record<string, unknown>
  yield {
    what: `an unknown field in ${path}`,
    body: rebuild({ ...object, [UNKNOWN]: 1 }),
    at: [path + pointerPart(UNKNOWN)],
  }
  for (const key of (schema.required as string[] | undefined) ?? []) {
    const { [key]: _, ...rest } = object
    // A choice left open is named at the object: which of the keys was meant cannot be known.
    const at = chosen ? [path + pointerPart(key), path] : [path + pointerPart(key)]
    yield { what: `${path} without ${key}`, body: rebuild(rest), at }
  }
  if ('mm' in object)
    yield { what: `a second unit at ${path}`, body: rebuild({ ...object, in: 1 }), at: [path] }
  if ('mph' in object)
    yield { what: `a second unit at ${path}`, body: rebuild({ ...object, kmh: 1 }), at: [path] }
  for (const [key, inner] of Object.entries(object)) {
    const property = schema.properties?.[key]
    if (property === undefined) throw new Error(`${path}: ${key} is not in the schema`)
    yield* mutations(
      property,
      inner,
      (changed) => rebuild({ ...object, [key]: changed }),
      path + pointerPart(key),
    )
  }
}

async function expectNamed(operation: Operation, { what, body, at }: Mutation) {
  const response = await app.inject({
    method: operation.method,
    url: operation.path,
    headers: { 'content-type': 'application/json' },
    payload: JSON.stringify(body),
  })
  const problem = expectProblem(response, 400, 'invalid-request')
  const pointers = (problem.errors ?? []).map(({ pointer }) => pointer)
  expect(pointers, `${what}: ${response.body}`).toHaveLength(1)
  expect(at.map(pointerFragment), `${what}: ${response.body}`).toContain(pointers[0])
}

const withBodies = operations(document).filter(
  (operation) => jsonBody(operation) !== undefined && !('security' in operation.spec),
)

describe('a fault anywhere in a valid request is a 400 that names that place and no other', () => {
  for (const operation of withBodies) {
    const schema = jsonBody(operation)!

    test(`${operation.spec.operationId}: every place of every example, spoilt in every way`, async () => {
      for (const example of requestExamples(document, operation)) {
        for (const mutation of mutations(schema, example, (changed) => changed)) {
          await expectNamed(operation, mutation)
        }
      }
    })

    test(`${operation.spec.operationId}: places of random bodies`, async () => {
      await fc.assert(
        fc.asyncProperty(arbitraryOf(document, schema), fc.nat(), async (body, choice) => {
          const all = [...mutations(schema, body, (changed) => changed)]
          await expectNamed(operation, all[choice % all.length]!)
        }),
        { numRuns: Number(process.env.FUZZ_RUNS ?? 40) },
      )
    })
  }
})
