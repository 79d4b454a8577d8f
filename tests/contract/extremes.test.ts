import fc from 'fast-check'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { arbitraryOf } from '../support/arbitrary.js'
import {
  branchTaking,
  faultsOf,
  jsonBody,
  operations,
  readOpenApi,
  requestExamples,
  type Schema,
} from '../support/contract.js'
import { expectDocumented } from '../support/documented.js'
import { CASES, TIMEOUT_MS } from '../support/properties.js'
import { send } from '../support/requests.js'
import { World } from '../support/world.js'

/** Calculations with numbers at their minimum and maximum: one alone, two together, all at once. */
const document = readOpenApi()

let world: World
beforeAll(async () => {
  world = await World.make()
})
afterAll(() => world.app.close())

/** A number of a body that its schema bounds. */
interface Leaf {
  readonly path: readonly (string | number)[]
  readonly bounds: readonly [number, number]
}

function* leaves(given: Schema, value: unknown, path: readonly (string | number)[] = []): Generator<Leaf> {
  const schema = branchTaking(document, given, value)
  const { minimum, maximum } = schema as { minimum?: number; maximum?: number }
  if (
    typeof value === 'number' &&
    minimum !== undefined &&
    maximum !== undefined &&
    schema.enum === undefined
  )
    yield { path, bounds: [minimum, maximum] }
  if (Array.isArray(value)) {
    // The first and the last item of a list: all items have the same schema.
    const ends = new Set([0, value.length - 1])
    for (const index of ends)
      if (value.length > 0) yield* leaves(schema.items as Schema, value[index], [...path, index])
  } else if (typeof value === 'object' && value !== null)
    for (const [key, inner] of Object.entries(value))
      yield* leaves(schema.properties![key]!, inner, [...path, key])
}

function withNumber(value: unknown, [key, ...rest]: readonly (string | number)[], number: number): unknown {
  if (key === undefined) return number
  if (Array.isArray(value)) return value.with(key as number, withNumber(value[key as number], rest, number))
  const object = value as Record<string, unknown>
  return { ...object, [key]: withNumber(object[key], rest, number) }
}

const calculations = operations(document).filter(
  (operation) =>
    operation.method === 'POST' && !('security' in operation.spec) && jsonBody(operation) !== undefined,
)

for (const operation of calculations) {
  const schema = jsonBody(operation)!
  const headers = { 'content-type': 'application/json' }
  const ask = async (body: unknown) => {
    // Bounds may break another rule: items of a list must differ, an uncertainty must be smaller than its value.
    if (faultsOf(schema, body).length > 0) return
    const answer = await send(world.owner, operation, { path: {}, query: {}, headers, body })
    expectDocumented(operation.spec.operationId, answer)
    expect([200, 422], answer.text.slice(0, 500)).toContain(answer.status)
  }

  describe(operation.spec.operationId, () => {
    test(
      'takes the minimum and the maximum of every number, alone and together with those of another',
      async () => {
        for (const example of requestExamples(document, operation)) {
          const numbers = [...leaves(schema, example)]
          const ends = numbers.flatMap(({ path, bounds }) => bounds.map((bound) => ({ path, bound })))
          for (const { path, bound } of ends) await ask(withNumber(example, path, bound))
          for (const end of [0, 1] as const)
            await ask(
              numbers.reduce(
                (body: unknown, { path, bounds }) => withNumber(body, path, bounds[end]),
                example,
              ),
            )
          const pairs = ends.flatMap((one, index) =>
            ends.slice(index + 1).map((other) => [one, other] as const),
          )
          // All pairs if they are few, else CASES of them, evenly spread.
          const stride = Math.max(1, Math.ceil(pairs.length / CASES))
          for (let index = 0; index < pairs.length; index += stride) {
            const [one, other] = pairs[index]!
            await ask(withNumber(withNumber(example, one.path, one.bound), other.path, other.bound))
          }
        }
      },
      TIMEOUT_MS,
    )

    test(
      'takes any body with each of its numbers at one of its bounds',
      async () => {
        const seed = fc.nat()
        await fc.assert(
          fc.asyncProperty(arbitraryOf(document, schema), seed, async (any, bits) => {
            const numbers = [...leaves(schema, any)]
            const body = numbers.reduce(
              (made: unknown, { path, bounds }, index) =>
                withNumber(made, path, bounds[(bits >> (index % 31)) & 1]!),
              any,
            )
            await ask(body)
          }),
          { numRuns: Math.ceil(CASES / 3) },
        )
      },
      TIMEOUT_MS,
    )
  })
}
