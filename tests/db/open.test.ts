import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import SqliteDatabase from 'better-sqlite3'
import { describe, expect, test } from 'vitest'
import { readMigrations } from '../../src/db/migrations.js'
import { APPLICATION_ID, openDatabase } from '../../src/db/sqlite/open.js'
import { tempFolder } from '../support/temp.js'

const nowMs = Date.UTC(2026, 0, 1)
const migrations = readMigrations('sqlite')

/** The tables, indexes and their definitions, in order. */
const schemaOf = (file: string) => {
  const db = new SqliteDatabase(file, { readonly: true })
  const rows = db.prepare('SELECT type, name, sql FROM sqlite_schema ORDER BY type, name').all()
  db.close()
  return rows
}

describe('openDatabase(file)', () => {
  test('creates a file with our application id, in WAL mode, synced at every commit, with foreign keys', () => {
    const db = openDatabase({ file: join(tempFolder(), 'deep/er/new.sqlite'), nowMs })
    const pragma = (name: string) => db.pragma(name, { simple: true })
    expect(pragma('application_id')).toBe(APPLICATION_ID)
    expect(pragma('user_version')).toBe(migrations.length)
    expect(pragma('journal_mode')).toBe('wal')
    expect(pragma('synchronous')).toBe(2)
    expect(pragma('foreign_keys')).toBe(1)
    expect(pragma('trusted_schema')).toBe(0)
    db.close()
  })

  test('synchronous is still FULL after a close, a reopen and a read', () => {
    const file = join(tempFolder(), 'again.sqlite')
    openDatabase({ file, nowMs }).close()
    const db = openDatabase({ file, nowMs })
    db.prepare('SELECT count(*) FROM accounts').get()
    expect(db.pragma('synchronous', { simple: true })).toBe(2)
    db.close()
  })

  test('has STRICT tables only', () => {
    const db = openDatabase({ file: ':memory:', nowMs })
    const loose = db.prepare(
      "SELECT name FROM pragma_table_list WHERE schema = 'main' AND type = 'table' AND strict = 0 AND name NOT LIKE 'sqlite_%'",
    )
    expect(loose.all()).toEqual([])
    db.close()
  })

  test('refuses a file that is not SQLite, and leaves it as it was', () => {
    const file = join(tempFolder(), 'letter.txt')
    const text = 'Dear club, the dial reads low.\n'.repeat(200)
    writeFileSync(file, text)
    expect(() => openDatabase({ file, nowMs })).toThrow(expect.objectContaining({ code: 'foreign-file' }))
    expect(readFileSync(file, 'utf8')).toBe(text)
  })

  test('refuses an SQLite file of another program, and leaves it as it was', () => {
    for (const mark of [0, 1234]) {
      const file = join(tempFolder(), 'other.sqlite')
      const other = new SqliteDatabase(file)
      other.pragma(`application_id = ${mark}`)
      other.exec('CREATE TABLE recipes (name TEXT)')
      other.close()
      const before = readFileSync(file)
      expect(() => openDatabase({ file, nowMs })).toThrow(expect.objectContaining({ code: 'foreign-file' }))
      expect(readFileSync(file).equals(before)).toBe(true)
    }
  })

  test('refuses a file of a later version', () => {
    const file = join(tempFolder(), 'later.sqlite')
    const db = openDatabase({ file, nowMs })
    db.pragma(`user_version = ${migrations.length + 1}`)
    db.close()
    expect(() => openDatabase({ file, nowMs })).toThrow(expect.objectContaining({ code: 'newer-file' }))
  })

  test('refuses a file to which a different version of a migration was applied', () => {
    const file = join(tempFolder(), 'changed.sqlite')
    openDatabase({ file, nowMs }).close()
    const changed = migrations.map((one, index) => (index === 0 ? { ...one, sha256: 'f'.repeat(64) } : one))
    expect(() => openDatabase({ file, nowMs, migrations: changed })).toThrow(
      expect.objectContaining({ code: 'changed-migration' }),
    )
  })

  for (const { number } of migrations) {
    test(`opens a file of version ${number} and brings it to the newest`, () => {
      const folder = tempFolder()
      const [older, newest] = [join(folder, 'older.sqlite'), join(folder, 'newest.sqlite')]
      openDatabase({ file: older, nowMs, migrations: migrations.slice(0, number) }).close()
      const db = openDatabase({ file: older, nowMs })
      expect(db.pragma('user_version', { simple: true })).toBe(migrations.length)
      expect(db.pragma('integrity_check', { simple: true })).toBe('ok')
      expect(db.pragma('foreign_key_check')).toEqual([])
      const record = db.prepare('SELECT number, name, sha256 FROM migrations ORDER BY number')
      expect(record.all()).toEqual(migrations.map(({ number, name, sha256 }) => ({ number, name, sha256 })))
      db.close()
      openDatabase({ file: newest, nowMs }).close()
      expect(schemaOf(older)).toEqual(schemaOf(newest))
    })
  }

  test('leaves a file at its version when a migration fails half way', () => {
    const file = join(tempFolder(), 'half.sqlite')
    openDatabase({ file, nowMs }).close()
    const before = schemaOf(file)
    const sql = 'CREATE TABLE half (a INTEGER) STRICT; CREATE TABLE half (a INTEGER) STRICT;'
    const bad = { number: migrations.length + 1, name: '9999_bad.sql', sql, sha256: 'a'.repeat(64) }
    expect(() => openDatabase({ file, nowMs, migrations: [...migrations, bad] })).toThrow(/already exists/)
    expect(schemaOf(file)).toEqual(before)
    const db = openDatabase({ file, nowMs })
    expect(db.pragma('user_version', { simple: true })).toBe(migrations.length)
    db.close()
  })
})
