import { createHash } from 'node:crypto'
import {
  chmodSync,
  chownSync,
  cpSync,
  existsSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  statSync,
  truncateSync,
  writeFileSync,
} from 'node:fs'
import { join } from 'node:path'
import SqliteDatabase from 'better-sqlite3'
import { beforeAll, beforeEach, describe, expect, test } from 'vitest'
import { openSqliteStore } from '../../src/db/sqlite/sqlite-store.js'
import { build } from '../support/build.js'
import { tempFolder } from '../support/temp.js'
import { Server } from './support/server.js'

const PAGE = 4096

let folder: string
let file: string

beforeAll(build, 120_000)
beforeEach(() => {
  folder = tempFolder()
  file = join(folder, 'club.sqlite')
})

/** A database with some vehicles, closed in order. */
async function fill(): Promise<void> {
  const store = openSqliteStore({ file, clock: Date.now })
  await store.accounts.create('test', 'club')
  const { record } = (await store.keys.create('test', { account: 'club', label: 'key', role: 'editor' }))!
  const author = { accountId: record.accountId, keyId: record.id }
  const profile = JSON.stringify({ notes: 'x'.repeat(2000) })
  await Promise.all(Array.from({ length: 50 }, () => store.vehicles.create(author, { profile })))
  await store.close()
}

/** A database whose last writes stand in the log alone, as after a crash. */
async function fillAndCrash(): Promise<void> {
  await fill()
  const db = new SqliteDatabase(file)
  db.pragma('journal_mode = WAL')
  const audit = db.prepare(
    "INSERT INTO audit (at_ms, actor, action, account_id, key_id, detail) SELECT at_ms, 'crash', action, account_id, key_id, detail FROM audit LIMIT 1",
  )
  for (let n = 0; n < 30; n++) audit.run()
  const crashed = join(folder, 'crashed.sqlite')
  for (const suffix of ['', '-wal']) cpSync(file + suffix, crashed + suffix)
  db.close()
  file = crashed
}

/** Overwrites pages with what no page can hold, from the third on: the first ones tell whose file it is. */
function damage(path: string, pages: number): void {
  const bytes = readFileSync(path)
  bytes.fill(7, 2 * PAGE, (2 + pages) * PAGE)
  writeFileSync(path, bytes)
}

/** What stands in a folder: names, and the hash of what each holds. */
const contents = (path: string) =>
  readdirSync(path)
    // The index of the log is made anew at each opening.
    .filter((name) => !name.endsWith('-shm'))
    .map((name) => {
      const inside = join(path, name)
      return statSync(inside).isFile()
        ? [name, createHash('sha256').update(readFileSync(inside)).digest('hex')]
        : [name]
    })

/** Starts the service on the file; it must end with a sentence that matches, and leave all as it was. */
async function expectRefused(message: RegExp, user?: number): Promise<void> {
  const before = contents(folder)
  const server = new Server({ file, ...(user === undefined ? {} : { user }) })
  expect(await server.exited).toBe(1)
  expect(server.error).toMatch(message)
  expect(server.error.trim().split('\n')).toHaveLength(1)
  expect(server.out).toBe('')
  expect(contents(folder)).toEqual(before)
}

describe('a start is refused with a sentence, and nothing on the disk is changed, on', () => {
  test('a database cut off in the middle', async () => {
    await fill()
    truncateSync(file, Math.floor(statSync(file).size / 2))
    await expectRefused(/club\.sqlite is damaged .*npm run restore/)
  })

  test('a database cut off in its first page', async () => {
    await fill()
    truncateSync(file, 90)
    await expectRefused(/club\.sqlite is (damaged|not an SQLite file)/)
  })

  test('a database with damaged pages', async () => {
    await fill()
    damage(file, 1)
    await expectRefused(/club\.sqlite is damaged .*npm run restore/)
  })

  test('a database with damaged pages and a log that is not written back', async () => {
    await fillAndCrash()
    damage(file, 8)
    await expectRefused(/crashed\.sqlite is damaged .*npm run restore/)
  })

  test('a text file', async () => {
    writeFileSync(file, 'Dear club, the dial reads low.\n'.repeat(200))
    await expectRefused(/club\.sqlite is not an SQLite file\. Name another DATABASE_FILE\./)
  })

  test('a file of one byte', async () => {
    writeFileSync(file, 'x')
    await expectRefused(/club\.sqlite is not an SQLite file\. Name another DATABASE_FILE\./)
  })

  test('a database of another program, with a log that is not written back', async () => {
    await fillAndCrash()
    const db = new SqliteDatabase(file)
    db.pragma('application_id = 1234')
    for (const suffix of ['', '-wal']) cpSync(file + suffix, join(folder, `other.sqlite${suffix}`))
    db.close()
    file = join(folder, 'other.sqlite')
    await expectRefused(/other\.sqlite is an SQLite file of another program/)
  })

  test('a database of a later version, whatever its journal', async () => {
    await fill()
    const db = new SqliteDatabase(file)
    db.pragma('user_version = 9999')
    db.pragma('journal_mode = DELETE')
    db.close()
    await expectRefused(/club\.sqlite has schema version 9999; this program knows versions up to \d+/)
  })

  test('a folder', async () => {
    mkdirSync(file)
    await expectRefused(/club\.sqlite cannot be used: it is not a file/)
  })

  test('a file where a folder should be', async () => {
    writeFileSync(file, 'x')
    file = join(file, 'club.sqlite')
    await expectRefused(/cannot be used: its folder is not there or not writable for this user/)
  })

  // To the superuser everything is writable: his server runs as another user.
  const user = process.getuid?.() === 0 ? 65_534 : undefined

  test('a file that may only be read', async () => {
    await fill()
    chmodSync(folder, 0o777)
    chmodSync(file, 0o444)
    await expectRefused(/club\.sqlite cannot be used: it is not readable and writable for this user/, user)
  })

  test('a folder that may only be read', async () => {
    await fill()
    if (user !== undefined) chownSync(file, user, user)
    chmodSync(folder, 0o555)
    await expectRefused(/club\.sqlite cannot be used: its folder is not there or not writable/, user)
    chmodSync(folder, 0o755)
  })

  test('a folder that cannot be made', async () => {
    chmodSync(folder, 0o555)
    file = join(folder, 'deep/er/club.sqlite')
    await expectRefused(/club\.sqlite cannot be used: its folder is not there or not writable/, user)
    chmodSync(folder, 0o755)
  })
})

describe('a log', () => {
  const audited = (path: string) => {
    const db = new SqliteDatabase(path, { readonly: true })
    const count = db.prepare<[], number>("SELECT count(*) FROM audit WHERE actor = 'crash'").pluck().get()!
    expect(db.pragma('integrity_check', { simple: true })).toBe('ok')
    db.close()
    return count
  }

  // A log that ends early is what a crash leaves: the two cannot be distinguished.
  test('that is cut off is read as far as whole transactions go', async () => {
    await fillAndCrash()
    const whole = readFileSync(`${file}-wal`)
    for (const part of [1, 0.7, 0.31, 0.01, 0]) {
      const cut = join(folder, `cut-${part}.sqlite`)
      cpSync(file, cut)
      writeFileSync(`${cut}-wal`, whole.subarray(0, Math.floor(whole.length * part)))
      await openSqliteStore({ file: cut, clock: Date.now }).close()
      // Each of the thirty was a transaction of its own.
      const expected = Math.floor(30 * part)
      expect(Math.abs(audited(cut) - expected)).toBeLessThanOrEqual(2)
    }
  })

  test('with a damaged page in its middle is read up to it', async () => {
    await fillAndCrash()
    const log = readFileSync(`${file}-wal`)
    log.fill(7, log.length / 2, log.length / 2 + PAGE)
    writeFileSync(`${file}-wal`, log)
    await openSqliteStore({ file, clock: Date.now }).close()
    expect(audited(file)).toBeGreaterThan(10)
    expect(audited(file)).toBeLessThan(20)
  })

  test('that is no log at all is passed over', async () => {
    await fill()
    writeFileSync(`${file}-wal`, 'not a log '.repeat(1000))
    await openSqliteStore({ file, clock: Date.now }).close()
    expect(existsSync(`${file}-wal`)).toBe(false)
    expect(audited(file)).toBe(0)
  })
})
