import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type Answer, type Client, newClient, testAppWithStore } from '../support/app.js'
import { jsonBody, type Operation, operations, readOpenApi, requestExamples } from '../support/contract.js'
import { aVehicle } from '../support/vehicles.js'

/**
 * Two accounts over every operation on an account's own things, as the OpenAPI document lists them: what belongs to
 * one is not there for the other.
 */
const document = readOpenApi()
const { app, store } = await testAppWithStore()
afterAll(() => app.close())

/** Stands in every text that the owner keeps: it must be in no answer to the other. */
const CANARY = 'canary of the owner'

let owner: Client
let other: Client
/** What the owner has, by the parameter that names it in a path. */
let ids: Record<string, string>

beforeAll(async () => {
  owner = await newClient(app, store, 'owner')
  other = await newClient(app, store, 'other', 'admin')
  const vehicle = await owner(
    'POST',
    '/v1/vehicles',
    aVehicle({ name: CANARY, notes: CANARY, reference: CANARY }),
  )
  await owner('PATCH', `/v1/vehicles/${vehicle.body.id}`, { notes: `${CANARY} again` }, { 'if-match': '*' })
  const calibration = await owner('POST', `/v1/vehicles/${vehicle.body.id}/calibrations`, {
    path: 'speedometer',
    on: 'road',
    accepted: true,
    notes: CANARY,
    readings: [
      { indicated: { mph: 32 }, true: { mph: 30 } },
      { indicated: { mph: 53 }, true: { mph: 50 } },
    ],
    model: 'proportional',
  })
  ids = {
    id: vehicle.body.id,
    version: '1',
    reference: CANARY,
    calibrationId: calibration.body.id,
  }
})

const owned = operations(document).filter(
  ({ path, spec }) => 'security' in spec && path.startsWith('/v1/vehicles'),
)
const byId = owned.filter(({ path }) => path.includes('{id}'))

/** Paths whose parameter is not an id of the service: the same text may be in both accounts. */
const lists = owned.filter(({ path }) => !path.includes('{id}'))

function urlOf({ path }: Operation): string {
  return path.replaceAll(/\{(\w+)\}/g, (_, name: string) => {
    const value = ids[name]
    if (value === undefined) throw new Error(`${path}: this test has nothing for ${name}; make one above`)
    return encodeURIComponent(value)
  })
}

/** The body that the operation's own examples show. */
function bodyOf(operation: Operation): unknown {
  const schema = jsonBody(operation)
  return schema === undefined ? undefined : requestExamples(document, operation)[0]
}

const send = (client: Client, operation: Operation): Promise<Answer> =>
  client(operation.method, urlOf(operation), bodyOf(operation), { 'if-match': '*' })

/** All that the owner can see of its things; a refusal (no pulses in this vehicle) but for the id of its request. */
async function everything(): Promise<string> {
  const answers = []
  for (const operation of owned.filter(({ method }) => method === 'GET'))
    answers.push((await send(owner, operation)).text.replace(/"requestId":"[^"]*"/, ''))
  return answers.join('\n')
}

describe('what one account keeps', () => {
  test('is on many operations', () => expect(byId.length).toBeGreaterThan(6))

  for (const operation of byId) {
    test(`is not there for another: ${operation.method} ${operation.path}`, async () => {
      const before = await everything()
      expect(before).toContain(CANARY)
      const answer = await send(other, operation)
      expect([answer.status, answer.body.code]).toEqual([404, 'not-found'])
      expect(answer.text + JSON.stringify(answer.headers)).not.toContain(CANARY)
      expect(answer.headers).not.toHaveProperty('etag')
      expect(await everything()).toBe(before)
    })

    test(`answers another as it answers for nothing at all: ${operation.method} ${operation.path}`, async () => {
      const real = await send(other, operation)
      const url = urlOf(operation).replace(ids.id!, '00000000-0000-7000-8000-000000000000')
      const nothing = await other(operation.method, url, bodyOf(operation), { 'if-match': '*' })
      const { requestId: _r, ...realBody } = real.body
      const { requestId: _n, ...nothingBody } = nothing.body
      expect(realBody).toEqual(nothingBody)
    })
  }

  for (const operation of lists) {
    test(`is in no answer to another: ${operation.method} ${operation.path}`, async () => {
      const before = await everything()
      const answer = await send(other, operation)
      expect(answer.status).toBeLessThan(500)
      expect(answer.text).not.toContain(`${CANARY} again`)
      expect(answer.text).not.toContain(ids.id)
      expect(await everything()).toBe(before)
    })
  }

  test('stays its own when the other takes the same reference', async () => {
    const mine = await owner('GET', `/v1/vehicles?reference=${encodeURIComponent(CANARY)}`)
    const theirs = await other('PUT', `/v1/vehicles/by-reference/${encodeURIComponent(CANARY)}`, aVehicle())
    expect(theirs.status).toBe(201)
    expect(theirs.body.id).not.toBe(ids.id)
    expect((await owner('GET', `/v1/vehicles?reference=${encodeURIComponent(CANARY)}`)).text).toBe(mine.text)
  })
})
