import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { SETTINGS } from '../../src/config.js'
import { openSqliteStore } from '../../src/db/sqlite/sqlite-store.js'
import { runKeysCommand } from '../../tools/keys-command.js'

const root = join(import.meta.dirname, '../..')
const page = readFileSync(join(root, 'docs/operations.md'), 'utf8')
const { scripts } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8'))

describe('docs/operations.md', () => {
  test('names commands that exist', () => {
    const names = [...page.matchAll(/npm run ([a-z]+)/g)].map(([, name]) => name!)
    expect(new Set(names)).toEqual(new Set(['keys', 'backup', 'build', 'restore', 'torture']))
    for (const name of names) expect(scripts).toHaveProperty([name])
  })

  test('names settings that exist', () => {
    const known = SETTINGS.map(({ name }) => name)
    const named = [...page.matchAll(/`([A-Z]+_[A-Z_]+)/g)].map(([, name]) => name!)
    expect(named.length).toBeGreaterThan(5)
    for (const name of named.filter((one) => one !== 'SQLITE_IOERR')) expect(known).toContain(name)
  })

  test('gives the values that settings have when left out', () => {
    const values = new Map(SETTINGS.map((one) => [one.name, one.default]))
    const given = [...page.matchAll(/`([A-Z]+_[A-Z_]+)` \((\d+)\)/g)].map(([, name, value]) => [name!, value])
    expect(given.length).toBeGreaterThanOrEqual(3)
    expect(given).toEqual(given.map(([name]) => [name, values.get(name!)]))
    expect(page).toContain(`RateLimit-Policy: "key";q=${values.get('RATE_PER_KEY')};w=60`)
  })

  test('its commands on keys do what they say, in their order', async () => {
    const store = openSqliteStore({ file: ':memory:', clock: Date.now })
    const commands = [...page.matchAll(/^npm run keys -- (.*)$/gm)].map(([, text]) =>
      [...text!.matchAll(/"([^"]*)"|(\S+)/g)].map(([, quoted, bare]) => quoted ?? bare!),
    )
    expect(commands.map(([command]) => command)).toEqual(['account', 'create', 'list', 'revoke'])
    for (const command of commands) {
      const id = (await store.keys.list())[0]?.id
      const args = command.map((word) => (word === 'ID' ? id! : word))
      expect(
        await runKeysCommand(args, { openStore: async () => store, clock: Date.now, print: () => undefined }),
        args.join(' '),
      ).toBe(0)
    }
    expect((await store.keys.list())[0]).toMatchObject({
      role: 'reader',
      label: 'web form',
      revokedAtMs: expect.anything(),
    })
    await store.close()
  })
})
