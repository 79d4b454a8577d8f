import fc from 'fast-check'
import { beforeEach, describe, expect, test } from 'vitest'
import type { PartInput, Shared, SharedAuthor, Store } from '../../../src/db/store.js'
import { handClock, IMPLEMENTATIONS } from '../../support/stores.js'

describe.each(IMPLEMENTATIONS)('parts in $name', ({ open }) => {
  let clock: ReturnType<typeof handClock>
  let store: Store
  let reopen: () => Promise<Store>
  let club: SharedAuthor
  let shop: SharedAuthor

  async function authorOf(account: string, changesOthers = false): Promise<SharedAuthor> {
    await store.accounts.create('test', account)
    const issued = await store.keys.create('test', { account, label: 'key', role: 'editor' })
    return { accountId: issued!.record.accountId, keyId: issued!.record.id, changesOthers }
  }

  beforeEach(async () => {
    clock = handClock()
    ;({ store, reopen } = await open(clock))
    club = await authorOf('club')
    shop = await authorOf('shop')
    return () => store.close()
  })

  const page = { limit: 10 }
  const circle = (mm: number, bolts = 4) => ({
    key: `bolt-circle/${bolts}`,
    primaryM: mm / 1000,
    secondaryM: 0,
  })
  const thread = (mm: number, pitchMm: number) => ({
    key: 'thread',
    primaryM: mm / 1000,
    secondaryM: pitchMm / 1000,
  })
  const input = (extra: Partial<PartInput> = {}): PartInput => {
    const fields = { kind: 'driven-gear', name: 'Gear', interfaces: [], ...extra }
    return { content: JSON.stringify({ name: fields.name, notes: fields.notes }), ...fields }
  }
  const made = (extra: Partial<PartInput> = {}, by = club) => store.parts.create(by, input(extra))
  const names = (items: readonly Shared[]) => items.map(({ content }) => JSON.parse(content).name)
  const found = async (filter: Parameters<Store['parts']['list']>[0]) =>
    names((await store.parts.list(filter, page)).items)

  test('what was recorded is read the same by every account, also after a reopen', async () => {
    const part = await made()
    expect(part).toEqual({
      id: part.id,
      version: 1,
      recordedBy: 'club',
      createdAtMs: clock(),
      changedAtMs: clock(),
      content: '{"name":"Gear"}',
    })
    await store.close()
    store = await reopen()
    expect(await store.parts.read(part.id)).toEqual(part)
    expect(await store.parts.read('018f0000-0000-7000-8000-000000000000')).toBeUndefined()
  })

  test('only the account that recorded a part changes or deletes it, or an admin', async () => {
    const { id } = await made()
    expect(await store.parts.replace(shop, id, 'any', () => input())).toEqual({ outcome: 'not-owner' })
    expect(await store.parts.remove(shop, id, 'any')).toEqual({ outcome: 'not-owner' })
    const admin = { ...shop, changesOthers: true }
    expect(await store.parts.replace(admin, id, 'any', () => input({ name: 'New' }))).toMatchObject({
      outcome: 'replaced',
      part: { version: 2, recordedBy: 'club', content: '{"name":"New"}' },
    })
    expect(await store.parts.remove(admin, id, 'any')).toEqual({ outcome: 'removed' })
  })

  test('a change is made on the versions it names only; every state stays with its author', async () => {
    const { id } = await made()
    expect(await store.parts.replace(club, id, [2], () => input())).toEqual({ outcome: 'stale', version: 1 })
    clock.advance(5)
    await store.parts.replace(club, id, [1], ({ content }) =>
      input({ name: `${JSON.parse(content).name} 2` }),
    )
    await store.parts.remove({ ...shop, changesOthers: true }, id, [2])
    expect(await store.parts.read(id)).toBeUndefined()
    expect(await store.parts.remove(club, id, 'any')).toEqual({ outcome: 'absent' })
    const atMs = clock()
    expect(await store.parts.revisions(id, page)).toEqual({
      items: [
        { version: 3, change: 'deleted', atMs, changedBy: 'shop' },
        { version: 2, change: 'replaced', atMs, changedBy: 'club', content: '{"name":"Gear 2"}' },
        { version: 1, change: 'created', atMs: atMs - 5, changedBy: 'club', content: '{"name":"Gear"}' },
      ],
    })
    const first = await store.parts.revisions(id, { limit: 2 })
    const second = await store.parts.revisions(id, { limit: 2, after: first!.next! })
    expect(second!.items.map(({ version }) => version)).toEqual([1])
    expect(await store.parts.revisions('nothing', page)).toBeUndefined()
  })

  test('a part that a fit report speaks of, on either side, is not deleted', async () => {
    const [part, other] = [await made(), await made()]
    const fit = await store.fits.create(shop, {
      part: part.id,
      about: { otherPart: other.id },
      content: '{}',
    })
    expect(await store.parts.remove(club, part.id, 'any')).toEqual({ outcome: 'in-use', reports: 1 })
    expect(await store.parts.remove(club, other.id, 'any')).toEqual({ outcome: 'in-use', reports: 1 })
    if (fit.outcome === 'created') await store.fits.remove(shop, fit.fit.id, 'any')
    expect(await store.parts.remove(club, other.id, 'any')).toEqual({ outcome: 'removed' })
  })

  describe('list()', () => {
    test('comes in pages in the order of recording, no part twice or left out', async () => {
      for (let n = 0; n < 7; n++) await made({ name: `Part ${n}` })
      const seen: string[] = []
      let after: string | undefined
      do {
        const got = await store.parts.list({}, after === undefined ? { limit: 3 } : { limit: 3, after })
        seen.push(...names(got.items))
        after = got.next
      } while (after !== undefined)
      expect(seen).toEqual([0, 1, 2, 3, 4, 5, 6].map((n) => `Part ${n}`))
    })

    test('finds by kind and by maker, in any case, and no part that is deleted', async () => {
      await made({ name: 'A', kind: 'cable', maker: 'Quillfeather' })
      await made({ name: 'B', kind: 'head', maker: 'QUILLFEATHER ' })
      await made({ name: 'C', kind: 'cable' })
      const gone = await made({ name: 'D', kind: 'cable', maker: 'Quillfeather' })
      await store.parts.remove(club, gone.id, 'any')
      expect(await found({ kind: 'cable' })).toEqual(['A', 'C'])
      expect(await found({ maker: 'quillfeather' })).toEqual(['A', 'B'])
      expect(await found({ maker: 'quillfeather', kind: 'head' })).toEqual(['B'])
    })

    test('finds by words of name, maker, number and notes, whatever endings and accents', async () => {
      await made({ name: 'Driven gears, 21 teeth', notes: 'molded nylon' })
      await made({ name: 'Zahnräder', maker: 'Müller', number: 'QG-21-N' })
      expect(await found({ text: 'gear' })).toEqual(['Driven gears, 21 teeth'])
      expect(await found({ text: 'NYLON driven' })).toEqual(['Driven gears, 21 teeth'])
      expect(await found({ text: 'zahnrader muller' })).toEqual(['Zahnräder'])
      expect(await found({ text: 'QG-21-N' })).toEqual(['Zahnräder'])
      expect(await found({ text: 'gear muller' })).toEqual([])
      expect(await found({ text: 'gear', kind: 'head' })).toEqual([])
    })

    test('a word with separators is found as a phrase of one field, separate words anywhere', async () => {
      await made({ name: 'whole', number: 'QG-21-N' })
      await made({ name: 'over two fields', number: 'QG', notes: '21 N' })
      await made({ name: 'in another order', notes: 'N, 21, QG' })
      expect(await found({ text: 'QG-21-N' })).toEqual(['whole'])
      expect(await found({ text: '21-N' })).toEqual(['whole', 'over two fields'])
      expect(await found({ text: 'n 21 qg' })).toEqual(['whole', 'over two fields', 'in another order'])
      expect(await found({ text: '- QG' })).toHaveLength(3)
    })

    test('a replaced part is found by its new words and interfaces only', async () => {
      const { id } = await made({ name: 'Old', interfaces: [circle(100)] })
      await store.parts.replace(club, id, 'any', () => input({ name: 'Young', interfaces: [circle(110)] }))
      expect(await found({ text: 'old' })).toEqual([])
      expect(await found({ text: 'young' })).toEqual(['Young'])
      expect(await found({ interface: { key: 'bolt-circle/4', minM: 0.09, maxM: 0.105 } })).toEqual([])
      expect(await found({ interface: { key: 'bolt-circle/4', minM: 0.105, maxM: 0.115 } })).toEqual([
        'Young',
      ])
    })

    test('no text of a user is taken for a query language', async () => {
      await made({ name: 'Gear' })
      for (const text of [
        // Blank text was a syntax error of the text index, found on 2026-11-25.
        ' ',
        '"',
        "'",
        '*',
        'gear*',
        'name:gear',
        'gear OR cable',
        'NEAR(gear)',
        '-gear',
        '^gear',
        '(',
        '\\',
        '""',
        'gear"',
      ]) {
        await expect(store.parts.list({ text }, page)).resolves.toHaveProperty('items')
      }
      await fc.assert(
        fc.asyncProperty(fc.string({ minLength: 1, maxLength: 30 }), async (text) => {
          expect((await store.parts.list({ text }, page)).items.length).toBeLessThanOrEqual(1)
        }),
      )
    })

    test('finds by bolt circle in the order of the diameter, each part once, over pages', async () => {
      await made({ name: 'C', interfaces: [circle(100.4)] })
      await made({ name: 'A', interfaces: [circle(99.6), circle(100.2)] })
      await made({ name: 'five', interfaces: [circle(100, 5)] })
      await made({ name: 'B', interfaces: [circle(100), circle(100)] })
      await made({ name: 'far', interfaces: [circle(101)] })
      const filter = { interface: { key: 'bolt-circle/4', minM: 0.0995, maxM: 0.1005 } }
      expect(await found(filter)).toEqual(['A', 'B', 'C'])
      const seen: string[] = []
      let after: string | undefined
      do {
        const got = await store.parts.list(filter, after === undefined ? { limit: 1 } : { limit: 1, after })
        seen.push(...names(got.items))
        after = got.next
      } while (after !== undefined)
      expect(seen).toEqual(['A', 'B', 'C'])
      expect(await found({ ...filter, text: 'b' })).toEqual(['B'])
    })
  })

  describe('near()', () => {
    const probe = (mm: number, tolerance: number) => ({
      ...circle(mm),
      primaryToleranceM: tolerance / 1000,
      secondaryToleranceM: tolerance / 5000,
    })

    test('finds the nearest of each interface, without the part itself, and says when there are more', async () => {
      const self = await made({ name: 'self', interfaces: [circle(100)] })
      for (const mm of [100.5, 99.8, 100.1, 100, 102]) await made({ name: `${mm}`, interfaces: [circle(mm)] })
      const all = await store.parts.near(self.id, [[probe(100, 0.6)]], 10)
      expect(all.complete).toBe(true)
      expect(names(all.parts).sort()).toEqual(['100', '100.1', '100.5', '99.8'])
      const some = await store.parts.near(self.id, [[probe(100, 0.6)]], 2)
      expect(some.complete).toBe(false)
      expect(names(some.parts).sort()).toEqual(['100', '100.1'])
    })

    test('looks at every pitch within the tolerance', async () => {
      const self = await made({ name: 'self', interfaces: [thread(22.225, 1.411)] })
      await made({ name: 'same', interfaces: [thread(22.225, 1.411)] })
      await made({ name: 'metric', interfaces: [thread(22, 1.5)] })
      await made({ name: 'coarse', interfaces: [thread(22, 2.5)] })
      const wide = { ...thread(22.225, 1.411), primaryToleranceM: 0.0005, secondaryToleranceM: 0.0001 }
      expect(names((await store.parts.near(self.id, [[wide]], 10)).parts)).toEqual(['same', 'metric'])
      const narrow = { ...wide, secondaryToleranceM: 0.00005 }
      expect(names((await store.parts.near(self.id, [[narrow]], 10)).parts)).toEqual(['same'])
    })

    test('finds what a walk over every part finds', async () => {
      const sizes = Array.from({ length: 60 }, (_, n) => 99 + ((n * 37) % 60) / 25)
      const self = await made({ name: 'self', interfaces: [circle(100)] })
      for (const mm of sizes) await made({ name: String(mm), interfaces: [circle(mm)] })
      for (const tolerance of [0, 0.1, 0.33, 0.5, 1]) {
        const expected = sizes.filter((mm) => Math.abs(mm - 100) <= tolerance + 1e-9).map(String)
        const { parts } = await store.parts.near(self.id, [[probe(100, tolerance + 1e-9)]], 100)
        expect(names(parts).sort()).toEqual(expected.sort())
      }
    })
  })

  test('remedies() gives the parts that reports about the vehicle speak of, then the newest of each kind', async () => {
    const parts = []
    for (let n = 0; n < 4; n++) parts.push(await made({ name: `gear ${n}` }))
    await made({ name: 'head', kind: 'head' })
    const vehicle = { make: 'Fennimark', model: 'Dorsel Two' }
    const state = (part: Shared, make: string) =>
      store.fits.create(shop, {
        part: part.id,
        about: { make, model: 'Dorsel Two' },
        content: `{"make":"${make}"}`,
      })
    await state(parts[0]!, 'FENNIMARK')
    await state(parts[0]!, 'Other')
    const found = await store.parts.remedies(['head', 'driven-gear'], vehicle, 3)
    expect(names(found.map(({ part }) => part))).toEqual(['head', 'gear 0', 'gear 3', 'gear 2'])
    expect(found.map(({ reports }) => reports.map(({ content }) => content))).toEqual([
      [],
      ['{"make":"FENNIMARK"}'],
      [],
      [],
    ])
    const without = await store.parts.remedies(['driven-gear'], undefined, 2)
    expect(names(without.map(({ part }) => part))).toEqual(['gear 3', 'gear 2'])
  })

  describe('import()', () => {
    const all = { dryRun: false, partial: false }

    test('records new parts, keeps ids that are given, and knows what is there already', async () => {
      const id = '018f0000-0000-7000-8000-00000000000a'
      const items = [{ input: input({ name: 'A' }) }, { id, input: input({ name: 'B' }) }]
      const [a, b] = await store.parts.import(club, items, all)
      expect([a!.outcome, b]).toEqual(['created', { outcome: 'created', id }])
      expect(await store.parts.import(club, [{ id, input: input({ name: 'B' }) }], all)).toEqual([
        { outcome: 'unchanged', id },
      ])
      expect(await found({})).toEqual(['A', 'B'])
    })

    test('changes a part only at the version that was exported, and only of the own account', async () => {
      const { id } = await made()
      const changed = { id, input: input({ name: 'Changed' }) }
      expect(await store.parts.import(club, [changed], all)).toEqual([{ outcome: 'exists', id }])
      expect(await store.parts.import(club, [{ ...changed, version: 2 }], all)).toEqual([
        { outcome: 'stale', version: 1 },
      ])
      expect(await store.parts.import(shop, [{ ...changed, version: 1 }], all)).toEqual([
        { outcome: 'not-owner' },
      ])
      expect(await store.parts.import(club, [{ ...changed, version: 1 }], all)).toEqual([
        { outcome: 'replaced', id },
      ])
      await store.parts.remove(club, id, 'any')
      expect(await store.parts.import(club, [{ ...changed, version: 2 }], all)).toEqual([
        { outcome: 'deleted' },
      ])
    })

    test('is all or nothing, unless partial; a dry run stores nothing', async () => {
      const { id } = await made()
      const items = [{ input: input({ name: 'New' }) }, { id, input: input({ name: 'Other' }) }]
      const outcomes = ['created', 'exists']
      for (const [options, stored] of [
        [{ dryRun: false, partial: false }, ['Gear']],
        [{ dryRun: true, partial: true }, ['Gear']],
        [{ dryRun: false, partial: true }, ['Gear', 'New']],
      ] as const) {
        const done = await store.parts.import(club, items, options)
        expect(done.map(({ outcome }) => outcome)).toEqual(outcomes)
        expect(await found({})).toEqual(stored)
        expect(await found({ text: 'new' })).toEqual(stored.filter((name) => name === 'New'))
      }
    })

    test('stores the response of an idempotent request with the rows or not at all', async () => {
      const save = (answer: string) => ({
        key: answer,
        fingerprint: new Uint8Array(32),
        answer: () => ({ status: 200, headers: {}, body: answer }),
      })
      await store.parts.import(club, [{ input: input() }], { dryRun: true, partial: false }, save('dry'))
      expect(await store.storedResponses.find(club.accountId, 'dry')).toBeUndefined()
      await store.parts.import(club, [{ input: input() }], all, save('real'))
      expect((await store.storedResponses.find(club.accountId, 'real'))?.answer.body).toBe('real')
    })
  })
})
