import { beforeEach, describe, expect, test } from 'vitest'
import type { Store } from '../../../src/db/store.js'
import { handClock, IMPLEMENTATIONS } from '../../support/stores.js'

describe.each(IMPLEMENTATIONS)('keys in $name', ({ open }) => {
  let clock: ReturnType<typeof handClock>
  let store: Store
  let reopen: () => Promise<Store>

  beforeEach(async () => {
    clock = handClock()
    ;({ store, reopen } = await open(clock))
    await store.accounts.create('test', 'Lamp Post Motor Club')
    return () => store.close()
  })

  const issue = async (extra: { expiresAtMs?: number } = {}) => {
    const issued = await store.keys.create('test', {
      account: 'Lamp Post Motor Club',
      label: 'workshop',
      role: 'editor',
      ...extra,
    })
    return issued!
  }

  test('a key identifies its account and role, also after a reopen', async () => {
    const { secret, record } = await issue()
    const expected = {
      valid: true,
      caller: { keyId: record.id, accountId: record.accountId, role: 'editor' },
    }
    expect(await store.keys.verify(secret)).toEqual(expected)
    await store.close()
    store = await reopen()
    expect(await store.keys.verify(secret)).toEqual(expected)
  })

  test('two keys are never the same', async () => {
    const secrets = await Promise.all(Array.from({ length: 50 }, () => issue().then(({ secret }) => secret)))
    expect(new Set(secrets).size).toBe(50)
  })

  test('an unknown text is not a valid key, whatever its form', async () => {
    const { secret } = await issue()
    for (const text of [
      '',
      'x',
      `${secret}A`,
      secret.slice(0, -1),
      secret.toUpperCase(),
      `wtd_${'A'.repeat(43)}`,
    ]) {
      expect(await store.keys.verify(text)).toEqual({ valid: false, reason: 'unknown' })
    }
  })

  test('an expired key stops at its time, not before', async () => {
    const { secret } = await issue({ expiresAtMs: clock() + 1000 })
    clock.advance(999)
    expect(await store.keys.verify(secret)).toMatchObject({ valid: true })
    clock.advance(1)
    expect(await store.keys.verify(secret)).toEqual({ valid: false, reason: 'expired' })
  })

  test('a revoked key stops at once; revoking again keeps the first time', async () => {
    const { secret, record } = await issue()
    const revoked = await store.keys.revoke('test', record.id)
    expect(revoked?.revokedAtMs).toBe(clock())
    expect(await store.keys.verify(secret)).toEqual({ valid: false, reason: 'revoked' })
    clock.advance(5000)
    expect(await store.keys.revoke('test', record.id)).toEqual(revoked)
    expect(await store.keys.revoke('test', '00000000-0000-7000-8000-000000000000')).toBeUndefined()
  })

  test('a change by another user of the same store holds at once, though the key was verified before', async () => {
    const { secret, record } = await issue()
    expect(await store.keys.verify(secret)).toMatchObject({ valid: true })
    const other = await reopen()
    await other.keys.revoke('another process', record.id)
    expect(await store.keys.verify(secret)).toEqual({ valid: false, reason: 'revoked' })
    const { secret: second } = (await other.keys.create('another process', {
      account: 'Lamp Post Motor Club',
      label: 'second',
      role: 'reader',
    }))!
    expect(await store.keys.verify(second)).toMatchObject({ valid: true })
    await other.close()
  })

  test('a key of no account is not made', async () => {
    expect(await store.keys.create('test', { account: 'Nobody', label: 'x', role: 'reader' })).toBeUndefined()
    expect(await store.keys.list()).toEqual([])
  })

  test('the last use is recorded, to the minute', async () => {
    const { secret } = await issue()
    const lastUse = async () => (await store.keys.list())[0]?.lastUsedAtMs
    expect(await lastUse()).toBeUndefined()
    const first = clock()
    await store.keys.verify(secret)
    await store.accounts.create('test', 'a later write, so that the note is committed')
    await expect.poll(lastUse).toBe(first)
    clock.advance(59_999)
    await store.keys.verify(secret)
    await store.accounts.create('test', 'another')
    await expect.poll(lastUse).toBe(first)
    clock.advance(1)
    await store.keys.verify(secret)
    await store.accounts.create('test', 'and another')
    await expect.poll(lastUse).toBe(first + 60_000)
  })

  test('the first key is made once, on an empty store only', async () => {
    expect(await store.keys.createFirst('test', 'main', 'first')).toBeUndefined()
    const { store: empty } = await open(clock)
    const both = await Promise.all([
      empty.keys.createFirst('test', 'main', 'first'),
      empty.keys.createFirst('test', 'main', 'first'),
    ])
    // Which of the two, PostgreSQL decides.
    const made = both.filter((one) => one !== undefined)
    expect(made).toHaveLength(1)
    expect(made[0]!.record).toMatchObject({ accountName: 'main', role: 'admin', label: 'first' })
    await empty.close()
  })

  test('an account name is taken once', async () => {
    expect(await store.accounts.create('test', 'Lamp Post Motor Club')).toBeUndefined()
    expect((await store.accounts.list()).map(({ name }) => name)).toEqual(['Lamp Post Motor Club'])
  })
})
