// Cost of the store: a vehicle read by its id compared with a bare route that sends the same text, and a durable insert
// compared with a route that does nothing; and each without the database, for its cost without the store.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { request } from 'undici'
import { openSqliteStore } from '../dist/src/db/sqlite/sqlite-store.js'
import { VehicleProfile } from '../dist/src/schemas/vehicles.js'
import { start } from './support/child.mjs'
import { dutiesOf } from './support/duties.mjs'
import { inTurns } from './support/turns.mjs'

const VEHICLES = 10_000
const profile = JSON.stringify(VehicleProfile.examples[0])

/** A database with one account, its key and its vehicles. */
async function fill(file) {
  const store = openSqliteStore({ file, clock: Date.now })
  const { secret, record } = await store.keys.createFirst('bench', 'bench', 'bench')
  const author = { accountId: record.accountId, keyId: record.id }
  const created = Array.from({ length: VEHICLES }, () =>
    store.vehicles.create(author, { make: 'Tarvenna', profile }),
  )
  const ids = (await Promise.all(created)).map(({ vehicle }) => vehicle.id)
  await store.close()
  return { secret, ids }
}

export default async () => {
  const folder = mkdtempSync(join(tmpdir(), 'wheel-to-dial-bench-'))
  const file = join(folder, 'bench.sqlite')
  const { secret, ids } = await fill(file)
  const headers = { authorization: `Bearer ${secret}` }
  const anyId = () => ids[Math.floor(Math.random() * ids.length)]
  const service = await start('service.mjs', file)
  const answer = await request(`${service.address}/v1/vehicles/${ids[0]}`, { headers })
  const bare = await start('text-service.mjs', await answer.body.text())
  try {
    const read = (server, at = (path) => path) => ({
      server,
      request: () => ({ method: 'GET', path: at(`/v1/vehicles/${anyId()}`), headers }),
    })
    const body = JSON.stringify({ ...JSON.parse(profile), reference: undefined })
    const insert = (path) => ({
      server: service,
      request: () => ({
        method: 'POST',
        path,
        headers: { ...headers, 'content-type': 'application/json' },
        body,
      }),
    })
    const alive = { server: service, request: () => ({ method: 'GET', path: '/alive' }) }
    return [
      {
        name: 'GET /v1/vehicles/{id}',
        ...(await inTurns(read(service), read(bare), { clients: 16, by: 'cpu' })),
        floor: 'bare route, no key, no database: the same text',
        target: 0.7,
        note: `one of ${VEHICLES} vehicles at random; answers a second of the server's own CPU time`,
      },
      {
        name: 'GET /v1/vehicles/{id}, without the database',
        ...(await inTurns(read(service, dutiesOf), read(bare), { clients: 16, by: 'cpu' })),
        floor: 'bare route, no key, no database: the same text',
        note: 'the same text each time',
      },
      {
        name: 'POST /v1/vehicles',
        ...(await inTurns(insert('/v1/vehicles'), alive, { clients: 16, by: 'clock' })),
        floor: 'GET that touches nothing, same server',
        target: 0.3,
        note: '16 clients, each insert on the disk before it is answered; answers a second of the clock',
      },
      {
        name: 'POST /v1/vehicles, without the database',
        ...(await inTurns(insert(dutiesOf('/v1/vehicles')), alive, { clients: 16, by: 'clock' })),
        floor: 'GET that touches nothing, same server',
        note: 'answers the profile as it came',
      },
    ]
  } finally {
    await Promise.all([service.stop(), bare.stop()])
    rmSync(folder, { recursive: true, force: true })
  }
}
