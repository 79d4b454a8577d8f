import { beforeEach, describe, expect, test } from 'vitest'
import { openPostgresStore } from '../../../src/db/postgres/postgres-store.js'
import type { Shared, SharedAuthor, Store, Vehicle } from '../../../src/db/store.js'
import { postgresPrograms } from '../../support/postgres.js'
import { clusterOfFile } from '../../support/postgres-cluster.js'

/** Rounds of each race. Enough: with the claims of rows taken out, the races about reports and first keys are lost. */
const ROUNDS = 25

describe.skipIf(postgresPrograms === undefined)('units of work of two processes at the same time', () => {
  // Each has connections of its own, as two processes have.
  let here: Store
  let there: Store
  let author: SharedAuthor

  beforeEach(async () => {
    const url = await (await clusterOfFile()).database()
    here = await openPostgresStore({ url, clock: Date.now })
    there = await openPostgresStore({ url, clock: Date.now })
    await here.accounts.create('test', 'club')
    const issued = await here.keys.create('test', { account: 'club', label: 'key', role: 'editor' })
    author = { accountId: issued!.record.accountId, keyId: issued!.record.id, changesOthers: false }
    return async () => {
      await here.close()
      await there.close()
    }
  })

  const part = (kind = 'cable', name = 'Part') =>
    here.parts.create(author, { kind, name, interfaces: [], content: JSON.stringify({ name }) })
  const report = (store: Store, { id }: Shared) =>
    store.fits.create(author, { part: id, about: { make: 'Fennimark', model: 'Dorsel' }, content: '{}' })
  const profile = (n: number) => JSON.stringify({ n })

  async function outcomesOf(race: (round: number) => Promise<string>): Promise<string[]> {
    const outcomes = new Set<string>()
    for (let round = 0; round < ROUNDS; round++) outcomes.add(await race(round))
    return [...outcomes].sort()
  }

  test('a part is deleted or has a report, never both', async () => {
    const outcomes = await outcomesOf(async () => {
      const one = await part()
      const [removed, reported] = await Promise.all([
        here.parts.remove(author, one.id, 'any'),
        report(there, one),
      ])
      return `${removed.outcome} ${reported.outcome}`
    })
    const allowed = ['in-use created', 'removed part-absent']
    expect(outcomes.filter((outcome) => !allowed.includes(outcome))).toEqual([])
  })

  test('a report is found by the kind that its part has after a change', async () => {
    const outcomes = await outcomesOf(async () => {
      const one = await part()
      const changed = { kind: 'head', name: 'Part', interfaces: [], content: '{}' }
      await Promise.all([here.parts.replace(author, one.id, 'any', () => changed), report(there, one)])
      const { items } = await here.fits.search({ kind: 'head', part: one.id }, { limit: 10 })
      return `${items.length} found`
    })
    expect(outcomes).toEqual(['1 found'])
  })

  test('sixteen reports on one part at once are all stored', async () => {
    const one = await part()
    const stores = Array.from({ length: 16 }, (_, index) => (index % 2 === 0 ? here : there))
    const reported = await Promise.all(stores.map((store) => report(store, one)))
    expect(reported.map(({ outcome }) => outcome)).toEqual(stores.map(() => 'created'))
  })

  test('a reference is given once', async () => {
    const outcomes = await outcomesOf(async (round) => {
      const input = { reference: `R${round}`, profile: profile(round) }
      const made = await Promise.all([here, there].map((store) => store.vehicles.create(author, input)))
      return made
        .map(({ outcome }) => outcome)
        .sort()
        .join(' ')
    })
    expect(outcomes).toEqual(['created reference-taken'])
  })

  test('one of two changes of the same version is made', async () => {
    const created = await here.vehicles.create(author, { profile: profile(0) })
    if (created.outcome !== 'created') throw new Error(created.outcome)
    const { id } = created.vehicle
    const outcomes = await outcomesOf(async (round) => {
      const change = (store: Store) =>
        store.vehicles.replace(author, id, [round + 1], () => ({ profile: profile(round) }))
      const made = await Promise.all([here, there].map(change))
      return made
        .map(({ outcome }) => outcome)
        .sort()
        .join(' ')
    })
    expect(outcomes).toEqual(['replaced stale'])
    expect(await here.vehicles.read(author.accountId, id)).toMatchObject({ version: ROUNDS + 1 })
  })

  test('a request with one Idempotency-Key is done once', async () => {
    const outcomes = await outcomesOf(async (round) => {
      const create = (store: Store) =>
        store.vehicles.create(
          author,
          { profile: profile(round) },
          {
            key: `k${round}`,
            fingerprint: new Uint8Array(32),
            answer: ({ id }: Vehicle) => ({ status: 201, headers: {}, body: id }),
          },
        )
      const made = await Promise.allSettled([here, there].map(create))
      return made
        .map((one) => (one.status === 'fulfilled' ? one.value.outcome : one.reason.code))
        .sort()
        .join(' ')
    })
    expect(outcomes).toEqual(['created stored-meanwhile'])
    const { items } = await here.vehicles.list(author.accountId, {}, { limit: 100 })
    expect(items).toHaveLength(ROUNDS)
  })

  test('the first key is made once, whatever the name of its account', async () => {
    const cluster = await clusterOfFile()
    for (let round = 0; round < 5; round++) {
      const url = await cluster.database()
      // Both open an empty database: one migrates it, the other waits.
      const stores = await Promise.all([1, 2].map(() => openPostgresStore({ url, clock: Date.now })))
      const made = await Promise.all(
        stores.map((store, index) => store.keys.createFirst('test', `club ${index}`, 'first')),
      )
      expect(made.filter((one) => one !== undefined)).toHaveLength(1)
      expect(await stores[0]!.accounts.list()).toHaveLength(1)
      for (const store of stores) await store.close()
    }
  })
})
