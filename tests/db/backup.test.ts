import { spawn } from 'node:child_process'
import { createHash } from 'node:crypto'
import { once } from 'node:events'
import { existsSync, readdirSync, readFileSync, rmSync, statSync, truncateSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import SqliteDatabase from 'better-sqlite3'
import { beforeAll, beforeEach, describe, expect, test } from 'vitest'
import { backupDatabase, restoreDatabase, verifyFile } from '../../src/db/sqlite/backup.js'
import { openSqliteStore } from '../../src/db/sqlite/sqlite-store.js'
import type { Author, Store } from '../../src/db/store.js'
import { build } from '../support/build.js'
import { tempFolder } from '../support/temp.js'

let folder: string
let file: string
let copy: string

beforeEach(() => {
  folder = tempFolder()
  file = join(folder, 'store.sqlite')
  copy = join(folder, 'copy.sqlite')
})

const open = () => openSqliteStore({ file, clock: Date.now })

async function fill(store: Store, vehicles: number): Promise<Author> {
  await store.accounts.create('test', 'club')
  const { record } = (await store.keys.create('test', { account: 'club', label: 'key', role: 'editor' }))!
  const author = { accountId: record.accountId, keyId: record.id }
  const profile = JSON.stringify({ notes: 'x'.repeat(2000) })
  await Promise.all(Array.from({ length: vehicles }, () => store.vehicles.create(author, { profile })))
  return author
}

const count = async (store: Store, { accountId }: Author) =>
  (await store.vehicles.list(accountId, {}, { limit: 1000 })).items.length

describe('a backup', () => {
  test('holds all that was acknowledged, while the store is open', async () => {
    const store = open()
    const author = await fill(store, 50)
    const report = backupDatabase(file, copy)
    expect(report).toMatchObject({
      file: copy,
      rows: { vehicles: 50, vehicle_revisions: 50, keys: 1, accounts: 1 },
    })
    await store.vehicles.create(author, { profile: '{}' })
    await store.close()
    const opened = openSqliteStore({ file: copy, clock: Date.now })
    expect(await count(opened, author)).toBe(50)
    await opened.close()
  })

  test('is not written over another file, nor made of nothing', async () => {
    await open().close()
    writeFileSync(copy, 'mine')
    expect(() => backupDatabase(file, copy)).toThrow(/exists/)
    expect(readFileSync(copy, 'utf8')).toBe('mine')
    expect(() => backupDatabase(join(folder, 'nothing.sqlite'), join(folder, 'x'))).toThrow(/directory|open/)
    expect(existsSync(join(folder, 'nothing.sqlite'))).toBe(false)
  })

  // As `sha256sum` writes it (coreutils): digest, two blanks, name.
  test('has its SHA-256 in a file next to it', async () => {
    await open().close()
    backupDatabase(file, copy)
    const digest = createHash('sha256').update(readFileSync(copy)).digest('hex')
    expect(readFileSync(`${copy}.sha256`, 'utf8')).toBe(`${digest}  copy.sqlite\n`)
  })

  // Until 2026-11 everyone on the machine could read them (mode 644).
  test('is readable by its owner only, like the database and its other files', async () => {
    const store = openSqliteStore({ file: join(folder, 'new', 'store.sqlite'), clock: Date.now })
    await fill(store, 1)
    const made = readdirSync(join(folder, 'new')).map((name) => join(folder, 'new', name))
    backupDatabase(made.find((path) => path.endsWith('.sqlite'))!, copy)
    restoreDatabase(copy, file, 'old')
    const modes = [join(folder, 'new'), ...made, copy, `${copy}.sha256`, file].map(
      (path) => statSync(path).mode & 0o777,
    )
    expect(made).toHaveLength(3)
    expect(modes).toEqual([0o700, ...Array(made.length + 3).fill(0o600)])
    await store.close()
  })

  describe('under write load from another process', () => {
    beforeAll(build, 120_000)

    test('is one moment of the whole, several times', async () => {
      const writer = spawn(process.execPath, [join(import.meta.dirname, '../support/crash-writer.mjs'), file])
      await once(writer.stdout, 'data')
      writer.stdout.resume()
      const live = new SqliteDatabase(file, { readonly: true })
      const written = live.prepare('SELECT count(*) FROM vehicles').pluck()
      let before = 0
      for (let n = 0; n < 4; n++) {
        while (Number(written.get()) <= before) await new Promise((resolve) => setTimeout(resolve, 10))
        const target = join(folder, `copy-${n}.sqlite`)
        const { rows } = backupDatabase(file, target)
        expect(rows.vehicles).toBeGreaterThan(before)
        before = rows.vehicles!
        const db = new SqliteDatabase(target, { readonly: true })
        const half = db.prepare(
          'SELECT id FROM vehicles WHERE version <> (SELECT max(version) FROM vehicle_revisions WHERE vehicle_id = id)',
        )
        expect(half.all()).toEqual([])
        db.close()
      }
      live.close()
      writer.kill('SIGKILL')
      await once(writer, 'exit')
    })
  })
})

describe('a restore', () => {
  test('restores the contents of the backup, and renames the previous file', async () => {
    const store = open()
    const author = await fill(store, 3)
    backupDatabase(file, copy)
    await store.vehicles.create(author, { profile: '{}' })
    await store.close()
    expect(restoreDatabase(copy, file, 'old').rows.vehicles).toBe(3)
    const restored = open()
    expect(await count(restored, author)).toBe(3)
    await restored.close()
    expect(verifyFile(`${file}.old`).rows.vehicles).toBe(4)
  })

  test('reports the path of the previous file, or that there was none', async () => {
    await open().close()
    backupDatabase(file, copy)
    expect(restoreDatabase(copy, file, 'old')).toMatchObject({ setAside: `${file}.old`, sameAsMade: true })
    expect(restoreDatabase(copy, join(folder, 'elsewhere.sqlite'), 'old')).not.toHaveProperty('setAside')
  })

  // Until 2026-11 such a backup was restored as good: every page of it fits the others.
  test('of a backup with four bytes changed inside a text is refused, and changes nothing', async () => {
    const store = open()
    await fill(store, 3)
    backupDatabase(file, copy)
    await store.close()
    const bytes = readFileSync(copy)
    bytes.write('yyyy', bytes.indexOf('xxxx'))
    writeFileSync(copy, bytes)
    expect(verifyFile(copy).rows.vehicles).toBe(3)
    expect(() => restoreDatabase(copy, file, 'old')).toThrow(
      /was changed after it was made.*copy\.sqlite\.sha256/,
    )
    expect(readFileSync(file).includes('yyyy')).toBe(false)
    expect(readdirSync(folder).sort()).toEqual(['copy.sqlite', 'copy.sqlite.sha256', 'store.sqlite'])
    writeFileSync(`${copy}.sha256`, 'lost')
    expect(() => restoreDatabase(copy, file, 'old')).toThrow(/holds no SHA-256/)
    // A backup from before has none: it is restored, and said to be unproven.
    rmSync(`${copy}.sha256`)
    expect(restoreDatabase(copy, file, 'old').sameAsMade).toBe(false)
  })

  test('is refused while the store is open', async () => {
    const store = open()
    const author = await fill(store, 3)
    backupDatabase(file, copy)
    expect(() => restoreDatabase(copy, file, 'old')).toThrow(/stop the service/)
    await store.vehicles.create(author, { profile: '{}' })
    expect(await count(store, author)).toBe(4)
    await store.close()
  })

  test('replaces a damaged database', async () => {
    const store = open()
    const author = await fill(store, 3)
    backupDatabase(file, copy)
    await store.close()
    writeFileSync(file, 'not a database any more '.repeat(100))
    restoreDatabase(copy, file, 'broken')
    const restored = open()
    expect(await count(restored, author)).toBe(3)
    await restored.close()
    expect(readFileSync(`${file}.broken`, 'utf8')).toMatch(/^not a database/)
  })

  test('of a damaged, cut off, foreign or newer backup is refused, and leaves the database', async () => {
    const store = open()
    const author = await fill(store, 50)
    backupDatabase(file, copy)
    await store.close()
    const bytes = readFileSync(copy)
    const bad = (name: string, make: (path: string) => void) => {
      const path = join(folder, name)
      writeFileSync(path, bytes)
      make(path)
      return path
    }
    const files: Array<[string, string]> = [
      [
        bad('damaged', (path) =>
          writeFileSync(
            path,
            Buffer.concat([bytes.subarray(0, 8192), Buffer.alloc(4096, 7), bytes.subarray(12288)]),
          ),
        ),
        'damaged-file',
      ],
      [bad('cut', (path) => truncateSync(path, bytes.length / 2)), 'damaged-file'],
      [bad('text', (path) => writeFileSync(path, 'text '.repeat(1000))), 'foreign-file'],
      [
        bad('newer', (path) => {
          const db = new SqliteDatabase(path)
          db.pragma('user_version = 9999')
          db.close()
        }),
        'newer-file',
      ],
    ]
    for (const [path, code] of files)
      expect(() => restoreDatabase(path, file, 'old'), path).toThrow(expect.objectContaining({ code }))
    expect(readdirSync(folder).filter((name) => name.includes('old'))).toEqual([])
    const opened = open()
    expect(await count(opened, author)).toBe(50)
    await opened.close()
  })
})

describe('a file that is not there', () => {
  // "unable to open database file": which of the two was not said.
  test('is named', () => {
    const folder = tempFolder()
    const [nope, target] = [join(folder, 'nope.sqlite'), join(folder, 'copy.sqlite')]
    const said = `${nope} cannot be opened: there is no such file.`
    expect(() => backupDatabase(nope, target)).toThrow(said)
    expect(() => restoreDatabase(nope, target, 'before')).toThrow(said)
    expect(() => verifyFile(join(nope, 'deeper'))).toThrow('there is no such file')
  })
})
