import { beforeEach, describe, expect, test } from 'vitest'
import type { SharedAuthor, Store, TireSizeInput } from '../../../src/db/store.js'
import { handClock, IMPLEMENTATIONS } from '../../support/stores.js'

describe.each(IMPLEMENTATIONS)('tire sizes in $name', ({ open }) => {
  let store: Store
  let reopen: () => Promise<Store>
  let club: SharedAuthor

  beforeEach(async () => {
    ;({ store, reopen } = await open(handClock()))
    await store.accounts.create('test', 'club')
    const issued = await store.keys.create('test', { account: 'club', label: 'key', role: 'editor' })
    club = { accountId: issued!.record.accountId, keyId: issued!.record.id, changesOthers: false }
    return () => store.close()
  })

  const page = { limit: 10 }
  const row = (
    designation: string,
    overallDiameterM = 0.7,
    extra: Partial<TireSizeInput> = {},
  ): TireSizeInput => ({
    designation,
    overallDiameterM,
    content: JSON.stringify({ designation, overallDiameterM }),
    ...extra,
  })
  async function made(input: TireSizeInput) {
    const done = await store.tireSizes.create(club, input)
    if (done.outcome !== 'created') throw new Error(done.outcome)
    return done.tireSize
  }

  test('a size has one row; its figures are there for computations, also after a reopen', async () => {
    const rows = [row('G78-15', 0.717, { sectionWidthM: 0.208 }), row('H78-15', 0.73)] as const
    const first = await made(rows[0])
    await made(rows[1])
    expect(await store.tireSizes.create(club, row('G78-15'))).toEqual({ outcome: 'taken', id: first.id })
    await store.close()
    store = await reopen()
    expect(await store.tireSizes.figures()).toEqual(rows)
  })

  test('a row moves to another size only where there is none', async () => {
    const { id } = await made(row('G78-15'))
    const other = await made(row('H78-15'))
    expect(await store.tireSizes.replace(club, id, [1], row('H78-15'))).toEqual({
      outcome: 'taken',
      id: other.id,
    })
    expect(await store.tireSizes.replace(club, id, [1], row('J78-15', 0.74))).toMatchObject({
      outcome: 'replaced',
      tireSize: { id, version: 2 },
    })
    expect(await store.tireSizes.replace(club, id, [1], row('G78-15'))).toEqual({
      outcome: 'stale',
      version: 2,
    })
    expect((await store.tireSizes.list({ designation: 'J78-15' }, page)).items).toMatchObject([{ id }])
    expect((await store.tireSizes.list({ designation: 'G78-15' }, page)).items).toEqual([])
  })

  test('a deleted row frees its size', async () => {
    const { id } = await made(row('G78-15'))
    expect(await store.tireSizes.remove({ ...club, accountId: 'x'.repeat(36) }, id, 'any')).toEqual({
      outcome: 'not-owner',
    })
    expect(await store.tireSizes.remove(club, id, 'any')).toEqual({ outcome: 'removed' })
    expect(await store.tireSizes.read(id)).toBeUndefined()
    expect(await store.tireSizes.figures()).toEqual([])
    expect(await store.tireSizes.create(club, row('G78-15'))).toMatchObject({ outcome: 'created' })
  })

  test('list() comes in pages in the order of recording', async () => {
    for (const letter of ['E', 'F', 'G']) await made(row(`${letter}78-15`))
    const first = await store.tireSizes.list({}, { limit: 2 })
    const second = await store.tireSizes.list({}, { limit: 2, after: first.next! })
    expect([...first.items, ...second.items].map(({ content }) => JSON.parse(content).designation)).toEqual([
      'E78-15',
      'F78-15',
      'G78-15',
    ])
    expect(second.next).toBeUndefined()
  })

  test('import() takes a size once, changes at the version exported, and tells what is there', async () => {
    const { id } = await made(row('G78-15'))
    const options = { dryRun: false, partial: true }
    const outcomes = await store.tireSizes.import(
      club,
      [
        { input: row('H78-15') },
        { input: row('H78-15', 0.8) },
        { input: row('G78-15') },
        { id, input: row('G78-15') },
        { id, input: row('G78-15', 0.9) },
        { id, version: 7, input: row('G78-15', 0.9) },
        { id, version: 1, input: row('G78-15', 0.9) },
      ],
      options,
    )
    expect(outcomes.map(({ outcome }) => outcome)).toEqual([
      'created',
      'taken',
      'taken',
      'unchanged',
      'exists',
      'stale',
      'replaced',
    ])
  })
})
