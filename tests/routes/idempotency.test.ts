import { afterAll, beforeEach, describe, expect, test } from 'vitest'
import { type Client, newClient, testAppWithStore } from '../support/app.js'
import { handClock } from '../support/stores.js'
import { aVehicle } from '../support/vehicles.js'

const clock = handClock()
const { app, store } = await testAppWithStore({}, clock)
afterAll(() => app.close())

let club: Client
let accounts = 0
beforeEach(async () => {
  club = await newClient(app, store, `club ${++accounts}`)
})

const send = (key: string, body: unknown = aVehicle(), client = club) =>
  client('POST', '/v1/vehicles', body, { 'idempotency-key': key })
const count = async () => (await club('GET', '/v1/vehicles')).body.vehicles.length

describe('a POST with an Idempotency-Key', () => {
  test('sent again is answered the same, and does nothing twice', async () => {
    const first = await send('k1')
    const again = await send('k1')
    expect([again.status, again.text]).toEqual([201, first.text])
    for (const name of ['etag', 'location', 'content-type'])
      expect(again.headers[name]).toBe(first.headers[name])
    expect(again.headers['idempotency-replayed']).toBe('true')
    expect(first.headers).not.toHaveProperty('idempotency-replayed')
    expect(await count()).toBe(1)
  })

  test('is answered the same even when the vehicle was changed or deleted since', async () => {
    const first = await send('k1')
    await club('DELETE', `/v1/vehicles/${first.body.id}`, undefined, { 'if-match': '*' })
    expect((await send('k1')).text).toBe(first.text)
    expect(await count()).toBe(0)
  })

  test('but another body is refused', async () => {
    await send('k1')
    const other = await send('k1', aVehicle({ notes: 'another' }))
    expect([other.status, other.body.code]).toEqual([422, 'idempotency-key-reused'])
    expect(await count()).toBe(1)
  })

  test('while the first is in flight is told to wait, and many at once make one', async () => {
    const answers = await Promise.all(Array.from({ length: 20 }, () => send('k1')))
    const made = answers.filter(({ status }) => status === 201)
    const waiting = answers.filter(({ status }) => status === 409)
    expect(made.length + waiting.length).toBe(20)
    expect(waiting.length).toBeGreaterThan(0)
    expect(waiting[0]!.body.code).toBe('request-in-flight')
    expect(waiting[0]!.headers['retry-after']).toBe('1')
    expect(new Set(made.map(({ body }) => body.id)).size).toBe(1)
    expect(await count()).toBe(1)
  })

  test('that failed keeps nothing: the key may be used again', async () => {
    await club('POST', '/v1/vehicles', aVehicle({ reference: 'J1' }))
    expect((await send('k1', aVehicle({ reference: 'J1' }))).status).toBe(409)
    expect((await send('k1', aVehicle({ reference: 'J2' }))).status).toBe(201)
  })

  test('of another account is another key', async () => {
    const other = await newClient(app, store, `other ${accounts}`)
    const [mine, theirs] = [await send('k1'), await send('k1', aVehicle(), other)]
    expect(mine.status).toBe(201)
    expect(theirs.status).toBe(201)
    expect(theirs.body.id).not.toBe(mine.body.id)
  })

  test('is stored for 24 hours, not longer', async () => {
    const first = await send('k1')
    clock.advance(24 * 3600 * 1000 - 1)
    expect((await send('k1')).body.id).toBe(first.body.id)
    clock.advance(1)
    const later = await send('k1')
    expect(later.status).toBe(201)
    expect(later.body.id).not.toBe(first.body.id)
  })

  test('takes keys of 1 to 200 visible characters', async () => {
    for (const key of ['x', '!'.repeat(200)]) expect((await send(key)).status).toBe(201)
    for (const key of ['x'.repeat(201), 'a b', 'é']) expect((await send(key)).status, key).toBe(400)
  })
})
