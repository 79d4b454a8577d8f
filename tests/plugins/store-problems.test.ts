import { afterAll, expect, test } from 'vitest'
import { StoreError, type StoreErrorCode } from '../../src/db/store/errors.js'
import type { Store } from '../../src/db/store.js'
import { clientOf, keyOf, testAppWithStore } from '../support/app.js'
import { aVehicle } from '../support/vehicles.js'

const { app, store } = await testAppWithStore()
afterAll(() => app.close())

/** The store for one call as on a disk that is full. */
function failOnce(code: StoreErrorCode) {
  const { create } = store.vehicles
  ;(store.vehicles as { create: Store['vehicles']['create'] }).create = async () => {
    Object.assign(store.vehicles, { create })
    throw new StoreError(code, 'SQLITE_FULL: database or disk is full, /srv/secret/path')
  }
}

const CAUSES: ReadonlyArray<readonly [StoreErrorCode, RegExp]> = [
  ['disk-full', /no room on the disk of the service; nothing was changed/],
  ['disk-failed', /disk of the service failed; nothing was changed/],
  ['outcome-unknown', /Look whether it is there before you ask again/],
  ['damaged', /damaged; nothing was changed/],
  ['held', /Another process holds the store of the service; nothing was changed/],
  ['unavailable', /cannot be used now; nothing was changed/],
]

for (const [code, detail] of CAUSES) {
  test(`a store that fails (${code}) is a 503 that states the cause in general terms, and the next request is served`, async () => {
    const client = clientOf(app, (await keyOf(store, code)).secret)
    failOnce(code)
    const answer = await client('POST', '/v1/vehicles', aVehicle(), { 'idempotency-key': 'k' })
    expect([answer.status, answer.body.code, answer.headers['retry-after']]).toEqual([
      503,
      'unavailable',
      '1',
    ])
    expect(answer.body.detail).toMatch(detail)
    expect(answer.text).not.toMatch(/SQLITE|secret/)
    expect((await client('POST', '/v1/vehicles', aVehicle(), { 'idempotency-key': 'k' })).status).toBe(201)
  })
}

test('an Idempotency-Key answered by another process meanwhile is a 409; a retry gets the stored response', async () => {
  const client = clientOf(app, (await keyOf(store, 'club')).secret)
  failOnce('stored-meanwhile')
  const answer = await client('POST', '/v1/vehicles', aVehicle(), { 'idempotency-key': 'j' })
  expect([answer.status, answer.body.code, answer.headers['retry-after']]).toEqual([
    409,
    'request-in-flight',
    '1',
  ])
})
