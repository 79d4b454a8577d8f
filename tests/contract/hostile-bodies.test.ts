import { gzipSync } from 'node:zlib'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { pointerFragment } from '../../src/http/pointer.js'
import type { Answer } from '../support/app.js'
import { faultsOf, jsonBody, type Operation, operations, readOpenApi } from '../support/contract.js'
import { expectDocumented, likeOf } from '../support/documented.js'
import { type HostileBody, hostileBodies, valueAt } from '../support/hostile-bodies.js'
import { expectProblem } from '../support/problem.js'
import { CASES, TIMEOUT_MS } from '../support/properties.js'
import { type Request, type Stored, storeSome, urlOf, validRequest } from '../support/requests.js'
import { World } from '../support/world.js'

/**
 * Bodies that wish no good, to every operation that takes JSON: refused with a problem that names the place, or taken as the
 * schema says. `npm run torture -- fuzz` tries each kind at each place of a body, `npm test` at one.
 */
const EVERYWHERE = CASES >= 1000

let world: World
let stored: Stored
beforeAll(async () => {
  world = await World.make()
  stored = await storeSome(world)
})
afterAll(() => world.app.close())

/** Documented failures of a valid body: a conflict with stored data, or values that do not fit together. */
const REASONS = [404, 409, 412, 422]

/** Parts of a body that are looked at each on its own, and whose faults stand in the answer to each. */
const APART: Readonly<Record<string, RegExp>> = { checkVehicles: /^\/vehicles\// }

/** Lists that may hold as many numbers. */
const MAY_BE_LONG: Readonly<Record<string, RegExp>> = { analyzeLog: /^\/(periods|times)$/ }

/** Longest answer that says what is wrong [characters]. */
const LONGEST_PROBLEM = 20_000

const send = (operation: Operation, request: Request, payload: unknown, headers = request.headers) =>
  world.owner(operation.method, urlOf(operation, request), payload, headers)

const isWithin = (inner: string, outer: string) => inner === outer || inner.startsWith(`${outer}/`)

/** Checks that the fault is reported at the changed place, inside it or at its parent. */
function expectPlace(answer: Answer, at: string): void {
  const pointers = answer.body.errors.map((error: { in: string; pointer: string }) => {
    expect(error.in).toBe('body')
    return error.pointer
  })
  const place = pointerFragment(at)
  for (const pointer of pointers)
    expect(isWithin(pointer, place) || isWithin(place, pointer), `${pointer} for ${place}`).toBe(true)
}

/** An accepted body is stored whole: nothing is dropped, truncated or changed. */
function expectKept(answer: Answer, payload: string, at: string): void {
  if (answer.body?.id === undefined) return
  const stored = 'request' in answer.body ? { ...answer.body, ...answer.body.request } : answer.body
  const sent = valueAt(JSON.parse(payload), at)
  expect(valueAt(stored, at)).toEqual(JSON.parse(JSON.stringify(sent)))
}

/** What is longer than anything that the schema admits is refused by its length, before anything of it is read. */
function expectTooLong(answer: Answer, payload: string | Buffer, said: string): void {
  expectProblem(likeOf(answer), 413, 'body-too-large')
  const [, limit] = /larger than (\d+) bytes/.exec(answer.body.detail) ?? []
  expect(Number(limit), said).toBeGreaterThanOrEqual(65_536)
  expect(Buffer.byteLength(payload), said).toBeGreaterThan(Number(limit))
}

async function expectInOrder(operation: Operation, request: Request, hostile: HostileBody): Promise<void> {
  const { what, make, at, code, large = false } = hostile
  const { operationId } = operation.spec
  const payload = make()
  const answer = await send(operation, request, payload)
  const said = `${operationId}, ${what} at ${at}: ${answer.status} ${answer.text.slice(0, 500)}`
  expectDocumented(operationId, answer)
  expect(answer.status, said).toBeLessThan(500)
  if (answer.status >= 400) {
    expectProblem(likeOf(answer), answer.status, answer.body.code)
    expect(answer.text.length, said).toBeLessThan(LONGEST_PROBLEM)
  }
  if (answer.status === 413) return expectTooLong(answer, payload, said)
  if (code !== undefined) {
    expect([answer.status, answer.body.code], said).toEqual([400, code])
    if (code === 'duplicate-key') expectPlace(answer, at)
    return
  }
  const isApart = APART[operationId]?.test(at) === true
  const isPatch = operation.method === 'PATCH'
  const isLog = what.endsWith(' times 0') && MAY_BE_LONG[operationId]?.test(at) === true
  const mustFail =
    !isApart &&
    !isPatch &&
    (large ? !isLog : faultsOf(jsonBody(operation)!, JSON.parse(String(payload))).length > 0)
  if (mustFail) expect(answer.status, said).toBe(400)
  if (answer.status === 400) {
    expect(answer.body.code, said).toBe('invalid-request')
    expectPlace(answer, at)
  } else if (answer.status < 300) {
    if (!isPatch) expectKept(answer, String(payload), at)
  } else expect(REASONS, said).toContain(answer.status)
}

const withBody = operations(readOpenApi()).filter((operation) => jsonBody(operation) !== undefined)

test('bodies are taken by many operations', () => expect(withBody.length).toBeGreaterThan(40))

for (const [turn, operation] of withBody.entries()) {
  const { operationId } = operation.spec

  test(
    `a hostile body is refused in order or taken whole: ${operationId}`,
    async () => {
      const first = validRequest(operation, stored)
      const request = { ...first, headers: { ...first.headers } }
      // What a put by reference makes the first time is there afterwards.
      await send(operation, first, JSON.stringify(first.body))
      if (operation.spec.parameters?.some(({ name }) => name === 'if-match'))
        request.headers['if-match'] = '*'
      for (const hostile of hostileBodies(request.body as object, EVERYWHERE, turn))
        await expectInOrder(operation, request, hostile)
      expect(({} as Record<string, unknown>).polluted).toBeUndefined()
      const unchanged = await send(operation, request, JSON.stringify(request.body))
      expect(unchanged.status < 300 || unchanged.status === 409, unchanged.text).toBe(true)
    },
    TIMEOUT_MS,
  )
}

describe('a body of another form is a 415 on every operation', () => {
  const forms: ReadonlyArray<readonly [string, Record<string, string>, string | Buffer | undefined]> = [
    ['text', { 'content-type': 'text/plain' }, undefined],
    ['a form', { 'content-type': 'application/x-www-form-urlencoded' }, 'a=1'],
    ['a form in parts', { 'content-type': 'multipart/form-data; boundary=x' }, '--x--'],
    ['XML', { 'content-type': 'application/xml' }, '<a/>'],
    ['a type that is no type', { 'content-type': ';;;' }, undefined],
    ['two types', { 'content-type': 'application/json, application/json' }, undefined],
    ['UTF-16', { 'content-type': 'application/json; charset=utf-16' }, Buffer.from('{}', 'utf16le')],
    ['UTF-7', { 'content-type': 'application/json; charset=utf-7' }, '+AHsAfQ-'],
    ['two charsets', { 'content-type': 'application/json; charset=utf-8; charset=utf-16' }, undefined],
    [
      'a gzip bomb',
      { 'content-type': 'application/json', 'content-encoding': 'gzip' },
      gzipSync(Buffer.alloc(50_000_000, ' ')),
    ],
    ['two encodings', { 'content-type': 'application/json', 'content-encoding': 'identity, br' }, undefined],
  ]
  for (const operation of operations(readOpenApi()).filter(({ spec }) => spec.requestBody !== undefined)) {
    test(operation.spec.operationId, async () => {
      const request = validRequest(operation, stored)
      for (const [what, headers, payload] of forms) {
        const body = payload ?? JSON.stringify(request.body)
        const answer = await send(operation, request, body, { ...request.headers, ...headers })
        expect([what, answer.status, answer.body.code]).toEqual([what, 415, 'unsupported-media-type'])
        expectDocumented(operation.spec.operationId, answer)
      }
    })
  }
})
