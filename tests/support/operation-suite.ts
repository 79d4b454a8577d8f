import fc from 'fast-check'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { pointerFragment } from '../../src/http/pointer.js'
import { bodySchema, faultsOf, type Operation, operations, readOpenApi, requestExamples } from './contract.js'
import { expectDocumented, likeOf } from './documented.js'
import { type InvalidRequest, invalidRequests } from './invalid-requests.js'
import { GROUPS } from './operation-groups.js'
import { expectProblem } from './problem.js'
import { CASES, TIMEOUT_MS } from './properties.js'
import { anyRequest, type Request, type Stored, send, storeSome, validRequest } from './requests.js'
import { kindOf, World } from './world.js'

const document = readOpenApi()

let world: World
let stored: Stored

/** Documented failures of a valid request: not found, conflict, precondition failed, not acceptable, unprocessable. */
const REASONS = [404, 406, 409, 412, 422]

/** Whether the schema does not decide validity: the text of a table or a track, and the result of a patch. */
const isBeyondSchema = ({ method }: Operation, { body }: Request) =>
  typeof body === 'string' || method === 'PATCH'

/** Each deletion needs a resource that exists. */
async function renewed(operation: Operation, request: Request): Promise<Request> {
  if (operation.method !== 'DELETE') return request
  const kind = kindOf(operation.path)
  return stored[kind].some(({ id }) => id === request.path.id)
    ? { ...request, path: await world.create(kind) }
    : request
}

async function expectRefused(
  operation: Operation,
  { what, make, in: part, at, large, late }: InvalidRequest,
  wasValid = true,
) {
  const request = make()
  if (request === undefined) return
  const answer = await send(world.owner, operation, request)
  if (large && answer.status === 413) return
  if (late && !wasValid && REASONS.includes(answer.status)) return
  // The valid request, sent before, replaced the version that both name.
  if (late && part === 'body' && answer.status === 412 && request.headers['if-match'] !== '*') return
  const problem = expectProblem(likeOf(answer), 400, 'invalid-request')
  const faults = (problem.errors ?? []).map((error) => `${error.in} ${error.pointer}`)
  const place = at.map((pointer) => `${part} ${pointerFragment(pointer)}`).find((one) => one === faults[0])
  expect(faults, `${what}: ${answer.text}`).toEqual([place ?? `${part} ${at.join(' or ')}`])
}

/** The tests of every operation of a group. */
export function testOperations(group: keyof typeof GROUPS): void {
  const tags: readonly string[] = GROUPS[group]
  beforeAll(async () => {
    world = await World.make()
  })
  afterAll(() => world.app.close())
  for (const operation of operations(document))
    if (operation.spec.tags!.some((tag) => tags.includes(tag))) testOperation(operation)
}

function testOperation(operation: Operation): void {
  const { operationId } = operation.spec
  const schema = bodySchema(operation)

  describe(operationId, () => {
    beforeAll(async () => {
      stored = await storeSome(world)
    })

    for (const [index, example] of requestExamples(document, operation).entries()) {
      test(`example ${index + 1} of the document is valid`, () =>
        expect(faultsOf(schema!, example)).toEqual([]))
    }

    test('answers a valid request as documented', async () => {
      const request = await renewed(operation, validRequest(operation, stored))
      const answer = await send(world.owner, operation, request)
      expect(answer.status, answer.text).toBeLessThan(300)
      expectDocumented(operationId, answer)
      if (operation.path.startsWith('/v1/') && !('security' in operation.spec))
        expect((await send(world.owner, operation, request)).text, 'same input, same answer').toBe(
          answer.text,
        )
    })

    if (operation.method === 'POST' && !('security' in operation.spec)) {
      test('answers every example with 200, the same each time', async () => {
        const valid = validRequest(operation, stored)
        for (const body of requestExamples(document, operation)) {
          const answers = [1, 2].map(() => send(world.owner, operation, { ...valid, body }))
          const [answer, again] = await Promise.all(answers)
          expect(answer!.status, answer!.text.slice(0, 500)).toBe(200)
          expect(again!.text).toBe(answer!.text)
        }
      })
    }

    test(
      'answers any valid request as documented, and refuses it with one invalid place, naming that place',
      async () => {
        let [succeeded, done] = [0, 0]
        await fc.assert(
          fc.asyncProperty(anyRequest(operation, stored), fc.nat(), async (any, choice) => {
            const request = await renewed(operation, any)
            const answer = await send(world.owner, operation, request)
            expectDocumented(operationId, answer)
            const hasSucceeded = answer.status < 400
            if (!hasSucceeded && !(answer.status === 400 && isBeyondSchema(operation, request)))
              expect(REASONS, answer.text).toContain(answer.status)
            done++
            if (hasSucceeded) succeeded++
            const all = [...invalidRequests(operation, request)].filter(({ large }) => !large)
            await expectRefused(operation, all[choice % all.length]!, hasSucceeded)
          }),
          { numRuns: CASES },
        )
        if (process.env.SHOW) console.log(operationId, succeeded, done)
      },
      TIMEOUT_MS,
    )

    test('refuses every invalid request that differs from a valid one in one place', async () => {
      for (const one of invalidRequests(operation, validRequest(operation, stored)))
        await expectRefused(operation, one)
    })
  })
}
