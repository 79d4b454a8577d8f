import { beforeEach, describe, expect, test } from 'vitest'
import type { FitInput, Shared, SharedAuthor, Store } from '../../../src/db/store.js'
import { handClock, IMPLEMENTATIONS } from '../../support/stores.js'

describe.each(IMPLEMENTATIONS)('fits in $name', ({ open }) => {
  let clock: ReturnType<typeof handClock>
  let store: Store
  let club: SharedAuthor
  let shop: SharedAuthor
  let gear: Shared
  let head: Shared

  async function authorOf(account: string): Promise<SharedAuthor> {
    await store.accounts.create('test', account)
    const issued = await store.keys.create('test', { account, label: 'key', role: 'editor' })
    return { accountId: issued!.record.accountId, keyId: issued!.record.id, changesOthers: false }
  }
  const part = (kind: string) =>
    store.parts.create(club, { kind, name: kind, interfaces: [], content: JSON.stringify({ kind }) })

  beforeEach(async () => {
    clock = handClock()
    ;({ store } = await open(clock))
    club = await authorOf('club')
    shop = await authorOf('shop')
    gear = await part('driven-gear')
    head = await part('head')
    return () => store.close()
  })

  const page = { limit: 10 }
  const said = (about: FitInput['about'], of = gear, note = ''): FitInput => ({
    part: of.id,
    about,
    content: JSON.stringify({ note }),
  })
  const fennimark = (yearFrom?: number, yearTo?: number, model = 'Dorsel Two') => ({
    make: 'Fennimark',
    model,
    ...(yearFrom === undefined ? {} : { yearFrom }),
    ...(yearTo === undefined ? {} : { yearTo }),
  })
  async function state(input: FitInput, by = club): Promise<Shared> {
    const done = await store.fits.create(by, input)
    if (done.outcome !== 'created') throw new Error(done.outcome)
    return done.fit
  }
  const ids = async (filter: Parameters<Store['fits']['search']>[0]) =>
    (await store.fits.search(filter, page)).items.map(({ part: { id }, groups }) => [
      id,
      groups.map(({ reports }) => reports.map((fit) => fit.id)),
    ])

  test('a report reads the same for every account', async () => {
    const fit = await state(said(fennimark()))
    expect(fit).toEqual({
      id: fit.id,
      version: 1,
      recordedBy: 'club',
      createdAtMs: clock(),
      changedAtMs: clock(),
      content: '{"note":""}',
    })
    expect(await store.fits.read(fit.id)).toEqual(fit)
  })

  test('names parts that are there', async () => {
    const nothing = { ...gear, id: '018f0000-0000-7000-8000-000000000000' }
    expect(await store.fits.create(club, said(fennimark(), nothing))).toEqual({ outcome: 'part-absent' })
    expect(await store.fits.create(club, said({ otherPart: nothing.id }))).toEqual({
      outcome: 'other-part-absent',
    })
  })

  test('search() groups by part, then by what the reports are about, and keeps every one', async () => {
    const first = await state(said(fennimark()))
    const againstIt = await state(said({ ...fennimark(), make: 'FENNIMARK', model: ' dorsel  two' }), shop)
    const otherModel = await state(said(fennimark(undefined, undefined, 'Dorsel Three')))
    const ofHead = await state(said(fennimark(), head))
    const mated = await state(said({ otherPart: head.id }))
    expect(await ids({})).toEqual([
      [gear.id, [[first.id, againstIt.id], [otherModel.id], [mated.id]]],
      [head.id, [[ofHead.id]]],
    ])
    expect(await ids({ make: 'fennimark', model: 'DORSEL TWO' })).toEqual([
      [gear.id, [[first.id, againstIt.id]]],
      [head.id, [[ofHead.id]]],
    ])
    expect(await ids({ model: 'dorsel three' })).toEqual([[gear.id, [[otherModel.id]]]])
    expect(await ids({ make: 'fennimark', kind: 'head' })).toEqual([[head.id, [[ofHead.id]]]])
    expect(await ids({ kind: 'head' })).toEqual([[head.id, [[ofHead.id]]]])
    expect(await ids({ part: head.id })).toEqual([
      [gear.id, [[mated.id]]],
      [head.id, [[ofHead.id]]],
    ])
    expect(await ids({ part: 'nothing' })).toEqual([])
    const { items } = await store.fits.search({ part: head.id }, page)
    expect(items[0]!.groups[0]!.otherPart?.id).toBe(head.id)
  })

  test('search() by year takes reports whose years hold it, closed at both ends, and those without years', async () => {
    const closed = await state(said(fennimark(1962, 1966)))
    const from = await state(said(fennimark(1966)))
    const to = await state(said(fennimark(undefined, 1962)))
    const always = await state(said(fennimark()))
    const of = async (year: number) => (await ids({ make: 'Fennimark', year }))[0]![1]
    expect(await of(1961)).toEqual([[to.id, always.id]])
    expect(await of(1962)).toEqual([[closed.id, to.id, always.id]])
    expect(await of(1966)).toEqual([[closed.id, from.id, always.id]])
    expect(await of(1967)).toEqual([[from.id, always.id]])
  })

  test('search() comes in pages of parts', async () => {
    await state(said(fennimark()))
    await state(said(fennimark(), head))
    const first = await store.fits.search({}, { limit: 1 })
    expect(first.items.map((item) => item.part.id)).toEqual([gear.id])
    const second = await store.fits.search({}, { limit: 1, after: first.next! })
    expect(second.items.map((item) => item.part.id)).toEqual([head.id])
    expect(second.next).toBeUndefined()
  })

  test('a change of the kind of a part is followed by the search by kind', async () => {
    const fit = await state(said(fennimark()))
    await store.parts.replace(club, gear.id, 'any', () => ({
      kind: 'cable',
      name: 'x',
      interfaces: [],
      content: '{}',
    }))
    expect(await ids({ kind: 'driven-gear' })).toEqual([])
    expect(await ids({ make: 'Fennimark', kind: 'cable' })).toEqual([[gear.id, [[fit.id]]]])
  })

  test('only the account that recorded a report withdraws it; it is found no more', async () => {
    const fit = await state(said(fennimark()))
    expect(await store.fits.remove(shop, fit.id, 'any')).toEqual({ outcome: 'not-owner' })
    expect(await store.fits.remove(club, fit.id, [2])).toEqual({ outcome: 'stale', version: 1 })
    expect(await store.fits.remove(club, fit.id, [1])).toEqual({ outcome: 'removed' })
    expect(await store.fits.remove(club, fit.id, 'any')).toEqual({ outcome: 'absent' })
    expect(await store.fits.read(fit.id)).toBeUndefined()
    expect(await ids({})).toEqual([])
  })

  test('import() records reports, refuses to change one, and lists them in their order', async () => {
    const id = '018f0000-0000-7000-8000-00000000000b'
    const options = { dryRun: false, partial: true }
    const items = [
      { id, input: said(fennimark(), gear, 'one') },
      { input: said({ otherPart: head.id }, gear, 'two') },
      { input: said({ otherPart: 'nothing' }) },
    ]
    const outcomes = await store.fits.import(club, items, options)
    expect(outcomes.map(({ outcome }) => outcome)).toEqual(['created', 'created', 'other-part-absent'])
    expect(await store.fits.import(club, items.slice(0, 1), options)).toEqual([{ outcome: 'unchanged', id }])
    expect(
      await store.fits.import(club, [{ id, version: 1, input: said(fennimark(), gear, 'x') }], options),
    ).toEqual([{ outcome: 'exists', id }])
    const first = await store.fits.list({ limit: 1 })
    const second = await store.fits.list({ limit: 1, after: first.next! })
    expect([...first.items, ...second.items].map(({ content }) => JSON.parse(content).note)).toEqual([
      'one',
      'two',
    ])
    await store.fits.remove(club, id, 'any')
    expect(await store.fits.import(club, items.slice(0, 1), options)).toEqual([{ outcome: 'deleted' }])
  })
})
