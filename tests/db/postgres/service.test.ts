import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { buildApp } from '../../../src/app.js'
import { readConfig } from '../../../src/config.js'
import { openPostgresStore } from '../../../src/db/postgres/postgres-store.js'
import type { Store } from '../../../src/db/store.js'
import { clientOf } from '../../support/app.js'
import { postgresPrograms } from '../../support/postgres.js'
import { clusterOfFile } from '../../support/postgres-cluster.js'
import { handClock, IMPLEMENTATIONS } from '../../support/stores.js'
import { runProgram } from '../../support/surroundings.js'

const config = readConfig({})
const examples = join(import.meta.dirname, '../../../examples')

/** Ids that an instance draws at random; those of the demo's tables are given there. */
const DRAWN = /(?!0199a000)[\da-f]{8}-[\da-f]{4}-7[\da-f]{3}-[\da-f]{4}-[\da-f]{12}/g

/** Replaces what differs between two instances by nature: drawn ids, in their order, and cursors, which each signs with a secret of its own. */
function masker(): (text: string) => string {
  const ids: string[] = []
  return (text) =>
    text
      .replaceAll(DRAWN, (id) => {
        if (!ids.includes(id)) ids.push(id)
        return `id ${ids.indexOf(id)}`
      })
      .replaceAll(/"next":"[^"]+"/g, '"next":"a cursor"')
}

/** Answers of an instance that the demo has filled. */
async function answersOf(store: Store, clock: () => number): Promise<ReadonlyMap<string, string>> {
  const { status, printed } = await runProgram(['demo'], store, { clock })
  expect(status).toBe(0)
  const secret = /wtd_\S+/.exec(printed)![0]
  const app = await buildApp({ config, store, clock })
  const send = clientOf(app, secret)
  const { body } = await send('GET', '/v1/vehicles')
  const ids: string[] = body.vehicles.map(({ id }: { id: string }) => id)
  const parts: string[] = (await send('GET', '/v1/parts')).body.parts.map(({ id }: { id: string }) => id)
  const urls = [
    '/v1/vehicles',
    '/v1/vehicles?limit=1',
    '/v1/vehicles/checks',
    ...ids.map((id) => `/v1/vehicles/${id}/revisions`),
    '/v1/parts',
    '/v1/parts?limit=3',
    '/v1/parts?kind=driven-gear',
    ...['gear', 'gears', 'cable', 'teeth gear', 'xyzzy', '21', 'drive'].map(
      (text) => `/v1/parts?text=${text}`,
    ),
    '/v1/parts/export',
    ...parts.flatMap((id) =>
      ['', '/revisions', '/candidates']
        .map((below) => `/v1/parts/${id}${below}`)
        .concat(`/v1/fits?part=${id}`),
    ),
    '/v1/fits',
    '/v1/fits?limit=2',
    '/v1/fits/export',
    '/v1/tire-sizes',
    '/v1/tire-sizes/export',
  ]
  const masked = masker()
  const answers = new Map<string, string>()
  for (const url of urls) {
    const { status, text } = await send('GET', url)
    answers.set(masked(url), masked(`${status} ${text}`))
  }
  await app.close()
  return answers
}

describe.skipIf(postgresPrograms === undefined)('the service on PostgreSQL', () => {
  test('answers as on SQLite, byte for byte', async () => {
    const [sqlite, postgres] = await Promise.all(
      IMPLEMENTATIONS.map(async ({ open }) => {
        const clock = handClock()
        const { store } = await open(clock)
        try {
          return await answersOf(store, clock)
        } finally {
          await store.close()
        }
      }),
    )
    expect(sqlite!.size).toBeGreaterThan(50)
    const statuses = new Set([...sqlite!.values()].map((answer) => answer.slice(0, 3)))
    expect([...statuses]).toEqual(['200'])
    expect([...postgres!]).toEqual([...sqlite!])
  })

  test('calculates while the server is away, refuses the rest with 503, and recovers by itself', async () => {
    const cluster = await clusterOfFile()
    const store = await openPostgresStore({ url: await cluster.database(), clock: Date.now })
    const { secret } = (await store.keys.createFirst('test', 'club', 'key'))!
    const app = await buildApp({ config, store, clock: Date.now })
    const [keyed, anonymous] = [clientOf(app, secret), clientOf(app, undefined)]
    const vehicle = JSON.parse(readFileSync(join(examples, 'vehicles/cable-changed-axle.json'), 'utf8'))
    const before = await anonymous('POST', '/v1/vehicle-checks', vehicle)
    expect(before.status).toBe(200)
    await cluster.crash()
    const during = await anonymous('POST', '/v1/vehicle-checks', vehicle)
    expect(during).toMatchObject({ status: 200, text: before.text })
    for (const send of [() => keyed('GET', '/v1/vehicles'), () => anonymous('GET', '/v1/parts')]) {
      expect(await send()).toMatchObject({
        status: 503,
        body: { code: 'unavailable' },
        headers: { 'retry-after': '1' },
      })
    }
    expect(await anonymous('GET', '/readyz')).toMatchObject({ status: 503, body: { code: 'not-ready' } })
    expect((await anonymous('GET', '/livez')).status).toBe(200)
    await cluster.start()
    expect((await keyed('GET', '/v1/vehicles')).status).toBe(200)
    await app.close()
    await store.close()
  })
})
