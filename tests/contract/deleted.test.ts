import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { operations, readOpenApi } from '../support/contract.js'
import { expectDocumented, likeOf } from '../support/documented.js'
import { expectProblem } from '../support/problem.js'
import { type Stored, send, storeSome, validRequest } from '../support/requests.js'
import { aFit, aPart, kindOf, type Params, World } from '../support/world.js'

/** Every operation with an id, as the OpenAPI document lists them, used after what the id names was deleted. */
const document = readOpenApi()

let world: World
let stored: Stored
beforeAll(async () => {
  world = await World.make()
  stored = await storeSome(world)
})
afterAll(() => world.app.close())

/** What may be asked for after the deletion, and says what there was. */
const STAYS = new Set(['listVehicleRevisions', 'getVehicleRevision', 'listPartRevisions'])

/** Keeps one more thing of the kind that an address is about and deletes it, or the vehicle that it belongs to. */
async function deleted(path: string): Promise<Params> {
  const kind = kindOf(path)
  const params = await world.create(kind)
  const list = kind === 'calibrations' ? 'vehicles' : kind
  const answer = await world.owner('DELETE', `/v1/${list}/${params.id}`, undefined, { 'if-match': '*' })
  expect(answer.status, answer.text).toBe(204)
  return { version: '1', ...params }
}

const named = operations(document).filter(({ path }) => path.includes('{id}'))

describe('what was deleted', () => {
  test('could be named in many operations', () => expect(named.length).toBeGreaterThan(20))

  for (const operation of named) {
    const { operationId } = operation.spec
    const stays = STAYS.has(operationId)
    test(`${stays ? 'can still be looked up' : 'is not there'}: ${operationId}`, async () => {
      const names = await deleted(operation.path)
      const valid = validRequest(operation, stored)
      const path = Object.fromEntries(Object.keys(valid.path).map((name) => [name, names[name]!]))
      // As it was when it was read last, and whatever it is.
      for (const tag of ['"1"', '*']) {
        const headers = 'if-match' in valid.headers ? { ...valid.headers, 'if-match': tag } : valid.headers
        const answer = await send(world.owner, operation, { ...valid, path, headers })
        expectDocumented(operationId, answer)
        if (stays) expect(answer.status, answer.text).toBe(200)
        else expectProblem(likeOf(answer), 404, 'not-found')
      }
    })
  }

  test('is not brought back by a tag that says it must not be there, or by one that says it must', async () => {
    const { id } = await deleted('/v1/vehicles/{id}')
    const revisions = async () => (await world.owner('GET', `/v1/vehicles/${id}/revisions`)).text
    const before = await revisions()
    const put = operations(document).find(({ spec }) => spec.operationId === 'replaceVehicle')!
    const valid = validRequest(put, stored)
    for (const headers of [{ 'if-none-match': '*' }, { 'if-match': '"1"' }, { 'if-match': '"2"' }]) {
      const answer = await send(world.owner, put, {
        ...valid,
        path: { id: id! },
        headers: { ...valid.headers, ...headers },
      })
      expect(answer.status, answer.text).toBeGreaterThanOrEqual(400)
    }
    expect(await revisions()).toBe(before)
  })

  test('stands in no list', async () => {
    for (const kind of ['vehicles', 'parts', 'tire-sizes', 'fits'] as const) {
      const { id } = await deleted(`/v1/${kind}/{id}`)
      const lists = operations(document).filter(
        ({ method, path }) => method === 'GET' && path.startsWith(`/v1/${kind}`) && !path.includes('{'),
      )
      expect(lists.length).toBeGreaterThan(1)
      for (const list of lists) {
        const answer = await send(world.owner, list, validRequest(list, stored))
        expect(answer.status, answer.text).toBe(200)
        expect(answer.text, list.path).not.toContain(id)
      }
    }
  })

  test('is not spoken of anew: a fit report about a part that was deleted', async () => {
    const { id } = await deleted('/v1/parts/{id}')
    const answer = await world.owner('POST', '/v1/fits', aFit(id!))
    expect([answer.status, answer.body.code]).toEqual([422, 'recorded-part-unknown'])
  })

  test('is not brought back by a table that was exported before', async () => {
    const { body: part } = await world.owner('POST', '/v1/parts', aPart({ notes: 'gone' }))
    const { text } = await world.owner('GET', '/v1/parts/export')
    await world.owner('DELETE', `/v1/parts/${part.id}`, undefined, { 'if-match': '*' })
    const answer = await world.owner('POST', '/v1/parts/import', text, { 'content-type': 'text/csv' })
    expect([answer.status, answer.body.code], answer.text).toEqual([422, 'table-not-stored'])
    expect(answer.body.errors.map(({ code }: { code: string }) => code)).toEqual(['deleted'])
    expect((await world.owner('GET', `/v1/parts/${part.id}`)).status).toBe(404)
  })

  test('leaves its reference free for another', async () => {
    const { id } = await world.create('vehicles')
    const { body } = await world.owner('GET', `/v1/vehicles/${id}`)
    const { id: _i, version: _v, createdAt: _c, changedAt: _h, ...profile } = body
    await world.owner('DELETE', `/v1/vehicles/${id}`, undefined, { 'if-match': '*' })
    const url = `/v1/vehicles/by-reference/${encodeURIComponent(profile.reference)}`
    const answer = await world.owner('PUT', url, profile)
    expect(answer.status, answer.text).toBe(201)
    expect(answer.body.id).not.toBe(id)
  })
})
