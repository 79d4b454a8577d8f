import { afterAll, expect, test } from 'vitest'
import { StoreError } from '../../src/db/store/errors.js'
import type { Store } from '../../src/db/store.js'
import { clientOf, keyOf, testAppWithStore } from '../support/app.js'
import { aVehicle } from '../support/vehicles.js'

const { app, store } = await testAppWithStore()
afterAll(() => app.close())

/** The store for one call as on a disk that is full. */
function failOnce(code: 'unavailable' | 'kept-meanwhile') {
  const { create } = store.vehicles
  ;(store.vehicles as { create: Store['vehicles']['create'] }).create = async () => {
    Object.assign(store.vehicles, { create })
    throw new StoreError(code, 'SQLITE_FULL: database or disk is full, /srv/secret/path')
  }
}

test('a store that cannot be used now is a 503 with Retry-After, and the next request is served', async () => {
  const client = clientOf(app, (await keyOf(store, 'club')).secret)
  failOnce('unavailable')
  const answer = await client('POST', '/v1/vehicles', aVehicle(), { 'idempotency-key': 'k' })
  expect([answer.status, answer.body.code, answer.headers['retry-after']]).toEqual([503, 'unavailable', '1'])
  expect(answer.text).not.toMatch(/SQLITE|secret/)
  expect((await client('POST', '/v1/vehicles', aVehicle(), { 'idempotency-key': 'k' })).status).toBe(201)
})

test('a key that another process answered meanwhile is a 409: asked again, it gives the answer kept', async () => {
  const client = clientOf(app, (await keyOf(store, 'club')).secret)
  failOnce('kept-meanwhile')
  const answer = await client('POST', '/v1/vehicles', aVehicle(), { 'idempotency-key': 'j' })
  expect([answer.status, answer.body.code, answer.headers['retry-after']]).toEqual([
    409,
    'request-in-flight',
    '1',
  ])
})
