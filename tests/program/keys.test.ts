import { beforeEach, describe, expect, test } from 'vitest'
import { openSqliteStore } from '../../src/db/sqlite/sqlite-store.js'
import type { Store } from '../../src/db/store.js'
import { handClock } from '../support/stores.js'
import { runProgram } from '../support/surroundings.js'

let store: Store
let clock: ReturnType<typeof handClock>
let printed: string
let warned: string

beforeEach(() => {
  clock = handClock()
  store = openSqliteStore({ file: ':memory:', clock })
  return () => store.close()
})

async function keys(...args: string[]): Promise<number | undefined> {
  // A file that is there: keys list and revoke want one.
  const environment = { DATABASE_FILE: import.meta.filename }
  const said = await runProgram(['keys', ...args], store, { clock, environment })
  ;({ printed, warned } = said)
  return said.status
}

const secret = () => /wtd_[\w-]{43}/.exec(printed)?.[0]

describe('keys', () => {
  test('makes an account and a key, and shows the key once', async () => {
    expect(await keys('account', 'Lamp Post Motor Club')).toBe(0)
    expect(
      await keys('create', '--account', 'Lamp Post Motor Club', '--label', 'form', '--role', 'reader'),
    ).toBe(0)
    const shown = secret()
    expect(await store.keys.verify(shown!)).toMatchObject({ valid: true, caller: { role: 'reader' } })
    expect(await keys('list')).toBe(0)
    expect(printed).toContain('Lamp Post Motor Club')
    expect(printed).toMatch(/reader +form +valid/)
    expect(printed).not.toContain(shown)
  })

  test('revokes a key at once', async () => {
    await keys('account', 'club')
    await keys('create', '--account', 'club')
    const shown = secret()!
    const id = (await store.keys.list())[0]!.id
    expect(await keys('revoke', id)).toBe(0)
    expect(await store.keys.verify(shown)).toEqual({ valid: false, reason: 'revoked' })
    await keys('list')
    expect(printed).toMatch(/revoked/)
  })

  test('takes an expiry in days or as a date', async () => {
    await keys('account', 'club')
    await keys('create', '--account', 'club', '--expires', '90d')
    await keys('create', '--account', 'club', '--expires', '2027-01-31')
    expect((await store.keys.list()).map(({ expiresAtMs }) => expiresAtMs)).toEqual([
      clock() + 90 * 86_400_000,
      Date.UTC(2027, 0, 31),
    ])
  })

  test('says what is wrong with a command, and does nothing', async () => {
    await keys('account', 'club')
    const wrong: Array<[string[], RegExp]> = [
      [[], /which command/],
      [['make'], /unknown command make/],
      [['constructor'], /unknown command constructor/],
      [['account'], /NAME is missing/],
      [['account', 'club'], /already/],
      [['account', 'a\u0007b'], /control/],
      [['account', 'x'.repeat(101)], /at most 100/],
      [['create'], /--account is missing/],
      [['create', '--account', 'nobody'], /no account nobody; there are: club/],
      [['create', '--account', 'club', '--role', 'owner'], /reader, editor, admin/],
      [['create', '--account', 'club', '--expires', 'soon'], /90d/],
      [['create', '--account', 'club', '--expires', '2020-01-01'], /not in the future/],
      [['create', '--account', 'club', '--for-ever'], /for-ever/],
      [['revoke', 'nothing'], /no key nothing/],
      [['list', '--foo'], /not understood: --foo/],
      [['account', 'Lamp', 'Post'], /not understood: Post/],
    ]
    for (const [args, message] of wrong) {
      expect(await keys(...args), args.join(' ')).toBe(2)
      expect(warned).toMatch(message)
      expect(warned).toContain('wheel-to-dial keys create --account NAME')
      expect(printed).toBe('')
    }
    expect(await store.keys.list()).toEqual([])
    expect(await store.accounts.list()).toHaveLength(1)
  })

  test('lists and revokes on a file that is there only, and makes none', async () => {
    for (const args of [['list'], ['revoke', 'ID']]) {
      const { status, warned: said } = await runProgram(['keys', ...args], store)
      expect([status, said]).toEqual([
        1,
        expect.stringMatching(/a\.sqlite is not there\. Set DATABASE_FILE\.$/),
      ])
    }
  })
})
