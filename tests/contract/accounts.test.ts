import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type Answer, type Client, newClient, testAppWithStore } from '../support/app.js'
import { jsonBody, type Operation, operations, readOpenApi, requestExamples } from '../support/contract.js'
import { expectDocumented } from '../support/documented.js'
import { type Stored, send as sendTo, storeSome, validRequest } from '../support/requests.js'
import { aVehicle } from '../support/vehicles.js'
import { kindOf, World } from '../support/world.js'

/**
 * Two accounts over every operation on an account's own things, as the OpenAPI document lists them: what belongs to
 * one is not there for the other.
 */
const document = readOpenApi()
const { app, store } = await testAppWithStore()
afterAll(() => app.close())

/** Contained in every text that the owner stores: no answer to another account may contain it. */
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

/** Visibility of the records of each kind, by path: an account's own, or shared by all. */
const WHOSE: Readonly<Record<string, 'own' | 'shared' | 'nothing stored'>> = {
  '/v1/vehicles': 'own',
  '/v1/parts': 'shared',
  '/v1/fits': 'shared',
  '/v1/tire-sizes': 'shared',
  '/problems': 'nothing stored',
  '/metrics': 'nothing stored',
}

const whose = ({ path }: Operation) => WHOSE[/^(?:\/v1)?\/[^/]+/.exec(path)![0]]

const all = operations(document)
const owned = all.filter((operation) => whose(operation) === 'own')
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

test('it is known of every address with a key or an id whose things are there', () => {
  const named = all.filter(({ path, spec }) => 'security' in spec || path.includes('{'))
  for (const operation of named)
    expect(whose(operation), `${operation.path}: say above whose it is`).toBeDefined()
})

test('no path of account data is open to callers without a key', () => {
  for (const { path, spec } of owned) expect(spec, path).toHaveProperty('security')
})

describe('data of one account', () => {
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

  for (const operation of byId.filter(({ path }) => /\}.*\{/.test(path))) {
    test(`is not reached through a vehicle of the other: ${operation.method} ${operation.path}`, async () => {
      const vehicle = await other('POST', '/v1/vehicles', aVehicle())
      // One more than the other's vehicle has.
      const before = await everything()
      const url = urlOf(operation).replace(ids.id!, vehicle.body.id).replace(/\/1$/, '/2')
      const answer = await other(operation.method, url, bodyOf(operation), { 'if-match': '*' })
      expect([answer.status, answer.body.code]).toEqual([404, 'not-found'])
      expect(answer.text).not.toContain(CANARY)
      expect(await everything()).toBe(before)
    })
  }

  test('is not reached by a cursor of its lists', async () => {
    await owner('POST', '/v1/vehicles', aVehicle({ notes: CANARY }))
    const { body } = await owner('GET', '/v1/vehicles?limit=1')
    expect(body.next).toBeDefined()
    const answer = await other('GET', `/v1/vehicles?limit=1&cursor=${encodeURIComponent(body.next)}`)
    expect([answer.status, answer.body.errors[0].code]).toEqual([400, 'cursor-not-of-list'])
    expect(answer.text).not.toContain(CANARY)
  })

  test('stays its own when the other takes the same reference', async () => {
    const mine = await owner('GET', `/v1/vehicles?reference=${encodeURIComponent(CANARY)}`)
    const theirs = await other('PUT', `/v1/vehicles/by-reference/${encodeURIComponent(CANARY)}`, aVehicle())
    expect(theirs.status).toBe(201)
    expect(theirs.body.id).not.toBe(ids.id)
    expect((await owner('GET', `/v1/vehicles?reference=${encodeURIComponent(CANARY)}`)).text).toBe(mine.text)
  })
})

describe('what an account shares', () => {
  let world: World
  let stored: Stored
  beforeAll(async () => {
    world = await World.make()
    stored = await storeSome(world)
  })
  afterAll(() => world.app.close())

  const shared = all.filter((operation) => whose(operation) === 'shared')
  const named = shared.filter(({ path }) => path.includes('{id}'))
  const tables = shared.filter(({ path }) => path.endsWith('/export'))

  /** All that can be read of what is shared. */
  async function allShared(): Promise<string> {
    const answers = []
    for (const operation of shared.filter(({ method }) => method === 'GET'))
      answers.push((await sendTo(world.owner, operation, validRequest(operation, stored))).text)
    return answers.join('\n')
  }

  test('is on many operations', () => expect(named.length).toBeGreaterThan(8))

  for (const operation of named.filter(({ method }) => method === 'GET')) {
    test(`is there for everybody: ${operation.path}`, async () => {
      const request = validRequest(operation, stored)
      const own = await sendTo(world.owner, operation, request)
      expect(own.status, own.text).toBe(200)
      for (const client of [world.other, world.reader, world.nobody]) {
        const answer = await sendTo(client, operation, request)
        expect([answer.status, answer.text]).toEqual([200, own.text])
      }
    })
  }

  for (const operation of named.filter(({ method }) => method !== 'GET')) {
    test(`is not changed by another: ${operation.method} ${operation.path}`, async () => {
      const before = await allShared()
      const answer = await sendTo(world.other, operation, validRequest(operation, stored))
      expect([answer.status, answer.body.code]).toEqual([403, 'not-owner'])
      expectDocumented(operation.spec.operationId, answer)
      expect(await allShared()).toBe(before)
    })

    test(`is not changed without a key: ${operation.method} ${operation.path}`, async () => {
      const before = await allShared()
      const answer = await sendTo(world.nobody, operation, validRequest(operation, stored))
      expect([answer.status, answer.body.code]).toEqual([401, 'key-required'])
      expect(await allShared()).toBe(before)
    })
  }

  for (const { path } of tables) {
    test(`is not changed by a table of another that names its rows: ${path}`, async () => {
      const before = await allShared()
      const exported = await world.owner('GET', path)
      // Every row differs from the stored record of its id and version.
      const table = exported.text.replaceAll(/as found/g, 'as changed by another')
      expect(table).not.toBe(exported.text)
      const answer = await world.other('POST', path.replace('export', 'import'), table, {
        'content-type': 'text/csv',
      })
      expect([answer.status, answer.body.code], answer.text).toEqual([422, 'table-not-stored'])
      // A fit report is changed by nobody, whoever recorded it.
      const code = path.startsWith('/v1/fits') ? 'exists' : 'not-owner'
      for (const error of answer.body.errors) expect(error).toMatchObject({ column: 'id', code })
      expect(await allShared()).toBe(before)
    })
  }

  test('is of kinds that the tests can create', () => {
    for (const { path } of named) expect(kindOf(path), path).toBeDefined()
  })
})
