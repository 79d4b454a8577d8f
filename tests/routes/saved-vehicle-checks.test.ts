import { setTimeout as wait } from 'node:timers/promises'
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest'
import { StoreError } from '../../src/db/store/errors.js'
import { type Client, clientOf, keyOf, newClient, testAppWithStore } from '../support/app.js'
import { faultsOf } from '../support/contract.js'
import { expectProblem } from '../support/problem.js'
import { aVehicle } from '../support/vehicles.js'

const URL = '/v1/vehicles/checks'
const { app, store } = await testAppWithStore({ BATCHES_PER_CALLER: '1' })
afterAll(() => app.close())

const COUNT = 230

let club: Client
let secret: string
const ids: string[] = []

beforeAll(async () => {
  ;({ secret } = await keyOf(store, 'club'))
  club = clientOf(app, secret)
  const other = await newClient(app, store, 'other')
  await other('POST', '/v1/vehicles', aVehicle())
  for (let i = 0; i < COUNT; i++) {
    // A size that can be parsed but is in no table is stored, and cannot be checked.
    const tires = { front: { size: '165R13' }, rear: { size: i === 7 ? 'FR70-19' : '165R13' } }
    const stored = await club(
      'POST',
      '/v1/vehicles',
      aVehicle({ reference: `JOB ${i}`, tires, make: i % 2 ? 'Tarvenna' : 'Ulvanne' }),
    )
    expect(stored.status).toBe(201)
    ids.push(stored.body.id)
  }
})

/** Answers of one caller come one after another: only one batch of it is let run. */
async function lines(query = '', client = club) {
  const answer = await client('GET', `${URL}${query}`)
  expect([answer.status, answer.headers['content-type']]).toEqual([200, 'application/x-ndjson'])
  const all = answer.text
    .trimEnd()
    .split('\n')
    .map((line) => JSON.parse(line))
  for (const line of all) expect(faultsOf({ $ref: '#/components/schemas/SavedCheckLine' }, line)).toEqual([])
  const { summary } = all.pop()
  return { text: answer.text, lines: all, summary }
}

describe('GET /v1/vehicles/checks', () => {
  test('checks every vehicle of the account in the order of creation, over several pages of the store', async () => {
    const all = await lines()
    expect(all.lines.map(({ line, id }) => [line, id])).toEqual(ids.map((id, index) => [index + 1, id]))
    expect(all.lines[3]).toMatchObject({ version: 1, reference: 'JOB 3', ok: true })
    expect(all.summary).toEqual({ lines: COUNT, blank: 0, ok: COUNT - 1, failed: 1, complete: true })
  })

  test('gives each vehicle the same answer as its own check, byte for byte; a failure is a problem of its line', async () => {
    const { text, lines: all } = await lines()
    for (const index of [0, 99, 100, 229]) {
      const alone = await club('GET', `/v1/vehicles/${ids[index]}/check`)
      expect(text.split('\n')[index]).toBe(
        `{"line":${index + 1},"id":"${ids[index]}","version":1,"reference":"JOB ${index}","ok":true,"result":${alone.text}}`,
      )
    }
    const alone = await club('GET', `/v1/vehicles/${ids[7]}/check`)
    const { requestId: _a, ...expected } = alone.body
    const { requestId: _b, ...problem } = all[7].problem
    expect(alone.status).toBe(422)
    expect(problem).toEqual(expected)
    expect(problem.errors[0].pointer).toBe('#/tires/rear/size')
  })

  test('can be filtered by make or model, and limited', async () => {
    const some = await lines('?make=tarvenna&limit=3')
    expect(some.lines.map(({ id }) => id)).toEqual([ids[1], ids[3], ids[5]])
    expect(some.summary).toMatchObject({ lines: 3, complete: true })
    const rest = await lines(`?make=tarvenna&cursor=${some.summary.next}`)
    expect(rest.lines).toHaveLength(COUNT / 2 - 3)
    expect(rest.lines[0].id).toBe(ids[7])
    expect(rest.summary).not.toHaveProperty('next')
    expect((await lines('?model=none')).summary).toEqual({
      lines: 0,
      blank: 0,
      ok: 0,
      failed: 0,
      complete: true,
    })
  })

  test('rejects the cursor of another list', async () => {
    const { summary } = await lines('?limit=1')
    const answer = await club('GET', `${URL}?make=tarvenna&cursor=${summary.next}`)
    expect([answer.status, answer.body.errors[0].code]).toEqual([400, 'cursor-not-of-list'])
    expect((await club('GET', `/v1/vehicles?cursor=${summary.next}`)).status).toBe(400)
  })

  test('as JSON comes in pages with every vehicle once', async () => {
    const seen: string[] = []
    let query = '?limit=100'
    for (let page = 0; page < 3; page++) {
      const { headers, body } = await club('GET', URL + query, undefined, { accept: 'application/json' })
      expect(headers).toMatchObject({ 'content-type': 'application/json; charset=utf-8', vary: 'accept' })
      expect(faultsOf({ $ref: '#/components/schemas/SavedChecksAnswer' }, body)).toEqual([])
      seen.push(...body.results.map(({ id }: { id: string }) => id))
      query = `?limit=100&cursor=${body.summary.next}`
      expect('next' in body.summary).toBe(page < 2)
    }
    expect(seen).toEqual(ids)
    const usual = await club('GET', URL, undefined, { accept: 'application/json' })
    expect(usual.body.results).toHaveLength(50)
  })

  test('needs a key, admits a reader, and takes no other media type or method', async () => {
    expectProblem(await app.inject({ url: URL }), 401, 'key-required')
    const reader = await newClient(app, store, 'club', 'reader')
    expect((await lines('?limit=2', reader)).lines).toHaveLength(2)
    const xml = await club('GET', URL, undefined, { accept: 'text/xml' })
    expect([xml.status, xml.body.code]).toEqual([406, 'not-acceptable'])
    expect((await club('POST', URL, {})).status).toBe(405)
  })

  test('answers HEAD without checking anything', async () => {
    const list = vi.spyOn(store.parts, 'remedies')
    const head = await app.inject({
      method: 'HEAD',
      url: URL,
      headers: { authorization: `Bearer ${secret}` },
    })
    expect([head.statusCode, head.headers['content-type'], head.body]).toEqual([
      200,
      'application/x-ndjson',
      '',
    ])
    expect(head.headers).not.toHaveProperty('content-length')
    expect(list).not.toHaveBeenCalled()
    list.mockRestore()
  })

  test('of an account without vehicles is a summary', async () => {
    const empty = await newClient(app, store, 'empty')
    expect((await lines('', empty)).summary).toMatchObject({ lines: 0, complete: true })
  })
})

describe('when the store fails', () => {
  const fail = () => Promise.reject(new StoreError('unavailable', 'the store cannot be used now'))

  test('before the answer begins, the status reports it', async () => {
    const list = vi.spyOn(store.vehicles, 'list').mockImplementationOnce(fail)
    const answer = await club('GET', URL)
    expect([answer.status, answer.body.code, answer.headers['retry-after']]).toEqual([
      503,
      'unavailable',
      '1',
    ])
    list.mockRestore()
  })

  test('in the middle, the summary reports it, and the rest can be requested from there', async () => {
    const real = store.vehicles.list.bind(store.vehicles)
    let pages = 0
    const failing = vi
      .spyOn(store.vehicles, 'list')
      .mockImplementation((...asked) => (++pages === 2 ? fail() : real(...asked)))
    const cut = await lines()
    failing.mockRestore()
    expect(cut.summary).toMatchObject({ lines: 100, complete: false, reason: 'failed' })
    const rest = await lines(`?cursor=${cut.summary.next}`)
    expect(rest.lines.map(({ id }) => id)).toEqual(ids.slice(100))
  })
})

test('vehicles created, changed or deleted meanwhile cause no error', async () => {
  const changing = lines()
  await wait(5)
  await club('DELETE', `/v1/vehicles/${ids[200]}`, undefined, { 'if-match': '*' })
  await club('POST', '/v1/vehicles', aVehicle())
  const seen = (await changing).lines.map(({ id }) => id)
  expect(new Set(seen).size).toBe(seen.length)
  // What was there all the while is there once, in order.
  const lasting = new Set(ids.filter((_, index) => index !== 200))
  expect(seen.filter((id) => lasting.has(id))).toEqual([...lasting])
})
