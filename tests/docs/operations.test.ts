import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { SETTINGS } from '../../src/config.js'
import { openSqliteStore } from '../../src/db/sqlite/sqlite-store.js'
import { runProgram } from '../support/surroundings.js'

const root = join(import.meta.dirname, '../..')
const page = readFileSync(join(root, 'docs/operations.md'), 'utf8')
const { scripts } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8'))

describe('docs/operations.md', () => {
  test('names commands that exist', () => {
    const names = [...page.matchAll(/npm run ([a-z]+)/g)].map(([, name]) => name!)
    expect(new Set(names)).toEqual(new Set(['keys', 'backup', 'build', 'check', 'restore', 'torture']))
    for (const name of names) expect(scripts).toHaveProperty([name])
  })

  test('names settings that exist', () => {
    const known = SETTINGS.map(({ name }) => name)
    const named = [...page.matchAll(/`([A-Z]+_[A-Z_]+)/g)].map(([, name]) => name!)
    expect(named.length).toBeGreaterThan(5)
    // A code of SQLite, and the example of a misspelt setting.
    const others = ['SQLITE_IOERR', 'DATABSE_FILE']
    for (const name of named.filter((one) => !others.includes(one))) expect(known).toContain(name)
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
      // A file that is there: keys list and revoke want one.
      const environment = { DATABASE_FILE: import.meta.filename }
      const { status, warned } = await runProgram(['keys', ...args], store, { environment })
      expect([status, warned], args.join(' ')).toEqual([0, ''])
    }
    expect((await store.keys.list())[0]).toMatchObject({
      role: 'reader',
      label: 'web form',
      revokedAtMs: expect.anything(),
    })
    await store.close()
  })
})
