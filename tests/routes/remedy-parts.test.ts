import { afterAll, expect, test } from 'vitest'
import { newClient, post, testAppWithStore } from '../support/app.js'
import { aVehicle } from '../support/vehicles.js'

const { app, store } = await testAppWithStore()
afterAll(() => app.close())
const club = await newClient(app, store, 'club')
const shop = await newClient(app, store, 'shop')

interface Remedy {
  text: string
  part?: { id: string; name: string; support?: number }
}

test('a check offers recorded parts as remedies, with their support by fit reports about the make and model', async () => {
  const vehicle = aVehicle({ tires: { front: { size: '165R13' }, rear: { size: '165R13' } } })
  const before = await post(app, '/v1/vehicle-checks', vehicle)
  expect(before.body.remedies.filter((remedy: Remedy) => remedy.part !== undefined)).toEqual([])
  expect(before.body.sources).not.toContain('stored-part')
  const ideal = before.body.remedies.find(
    (remedy: { action: string }) => remedy.action === 'change-driven-gear',
  )
  // A shop records the very gear that the check computed, and the club says that it fits the vehicle.
  const gear = await shop('POST', '/v1/parts', {
    kind: 'driven-gear',
    name: 'Driven gear of the shop',
    teeth: ideal.stage.teeth.driven,
    interfaces: [],
  })
  const unproven = await post(app, '/v1/vehicle-checks', vehicle)
  const offered = unproven.body.remedies.find((remedy: Remedy) => remedy.part?.id === gear.body.id)
  expect(offered.part).toEqual({ id: gear.body.id, name: 'Driven gear of the shop' })
  expect(unproven.body.sources).toContain('stored-part')
  await club('POST', '/v1/fits', {
    part: gear.body.id,
    vehicle: { make: 'TARVENNA', model: 'Ostrel' },
    result: 'fits',
    evidence: 'road-tested',
  })
  // Rule of succession after one success: 2/3.
  const supported = {
    id: gear.body.id,
    name: 'Driven gear of the shop',
    support: 2 / 3,
    reports: [{ result: 'fits', evidence: 'road-tested', author: 'club' }],
  }
  const proven = await post(app, '/v1/vehicle-checks', vehicle)
  expect(proven.body.remedies.find((remedy: Remedy) => remedy.part?.id === gear.body.id).part).toEqual(
    supported,
  )
  expect(proven.body.sources).toContain('stored-fit')
  const stored = await club('POST', '/v1/vehicles', vehicle)
  const saved = await club('GET', `/v1/vehicles/${stored.body.id}/check`)
  expect(saved.body.remedies).toEqual(proven.body.remedies)
})
