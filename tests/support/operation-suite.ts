import fc from 'fast-check'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { pointerFragment } from '../../src/border/pointer.js'
import { faultsOf, jsonBody, type Operation, operations, readOpenApi, requestExamples } from './contract.js'
import { expectDocumented, likeOf } from './documented.js'
import { GROUPS } from './operation-groups.js'
import { expectProblem } from './problem.js'
import { CASES, TIMEOUT_MS } from './properties.js'
import { anyRequest, goodRequest, type Kept, keepSome, type Request, send } from './requests.js'
import { type SpoiltRequest, spoilt } from './spoilt-requests.js'
import { kindOf, World } from './world.js'

const document = readOpenApi()

let world: World
let kept: Kept

/** Failures that a request may meet which the document admits: not there, not now, not possible. */
const REASONS = [404, 406, 409, 412, 422]

/** Of what a schema cannot say: the text of a table or a track, and the whole that a patch makes. */
const isUnsaid = ({ method }: Operation, { body }: Request) => typeof body === 'string' || method === 'PATCH'

/** A deletion needs something that is there, each time. */
async function renewed(operation: Operation, request: Request): Promise<Request> {
  if (operation.method !== 'DELETE') return request
  const kind = kindOf(operation.path)
  return kept[kind].some(({ id }) => id === request.path.id)
    ? { ...request, path: await world.keep(kind) }
    : request
}

async function expectRefused(
  operation: Operation,
  { what, make, in: part, at, large, late }: SpoiltRequest,
  wasGood = true,
) {
  const request = make()
  if (request === undefined) return
  const answer = await send(world.owner, operation, request)
  if (large && answer.status === 413) return
  if (late && !wasGood && REASONS.includes(answer.status)) return
  // The good request made the version that both name an old one.
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
  const schema = jsonBody(operation)

  describe(operationId, () => {
    beforeAll(async () => {
      kept = await keepSome(world)
    })

    for (const [index, example] of requestExamples(document, operation).entries()) {
      test(`example ${index + 1} of the document is valid`, () =>
        expect(faultsOf(schema!, example)).toEqual([]))
    }

    test('answers a good request as documented', async () => {
      const request = await renewed(operation, goodRequest(operation, kept))
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
        const headers = { 'content-type': 'application/json' }
        for (const body of requestExamples(document, operation)) {
          const answers = [1, 2].map(() =>
            send(world.owner, operation, { path: {}, query: {}, headers, body }),
          )
          const [answer, again] = await Promise.all(answers)
          expect(answer!.status, answer!.text.slice(0, 500)).toBe(200)
          expect(again!.text).toBe(answer!.text)
        }
      })
    }

    test(
      'answers any good request as documented, and refuses it spoilt in one place, naming that place',
      async () => {
        let [good, done] = [0, 0]
        await fc.assert(
          fc.asyncProperty(anyRequest(operation, kept), fc.nat(), async (any, choice) => {
            const request = await renewed(operation, any)
            const answer = await send(world.owner, operation, request)
            expectDocumented(operationId, answer)
            const isGood = answer.status < 400
            if (!isGood && !(answer.status === 400 && isUnsaid(operation, request)))
              expect(REASONS, answer.text).toContain(answer.status)
            done++
            if (isGood) good++
            const all = [...spoilt(operation, request)].filter(({ large }) => !large)
            await expectRefused(operation, all[choice % all.length]!, isGood)
          }),
          { numRuns: CASES },
        )
        if (process.env.SHOW) console.log(operationId, good, done)
      },
      TIMEOUT_MS,
    )

    test('refuses a good request spoilt in any one way, each in turn', async () => {
      for (const one of spoilt(operation, goodRequest(operation, kept))) await expectRefused(operation, one)
    })
  })
}
