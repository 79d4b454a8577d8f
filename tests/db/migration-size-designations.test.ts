import { join } from 'node:path'
import { expect, test } from 'vitest'
import { readMigrations } from '../../src/db/migrations.js'
import { openDatabase } from '../../src/db/sqlite/open.js'
import { openSqliteStore } from '../../src/db/sqlite/sqlite-store.js'
import { parseTireSize } from '../../src/domain/tires/size.js'
import { tempFolder } from '../support/temp.js'

const nowMs = Date.UTC(2026, 0, 1)
const id = (n: number) => `0199a000-0000-7000-8000-${String(n).padStart(12, '0')}`

/** A file of version 5 with rows of these designations, in this order. */
function fileWith(designations: readonly string[]): string {
  const file = join(tempFolder(), 'old.sqlite')
  const db = openDatabase({ file, nowMs, migrations: readMigrations('sqlite').slice(0, 5) })
  db.prepare("INSERT INTO accounts VALUES (?, 'club', ?)").run(id(1), nowMs)
  db.prepare(
    "INSERT INTO keys (id, account_id, label, role, hash, created_at_ms) VALUES (?, ?, 'key', 'editor', ?, ?)",
  ).run(id(2), id(1), 'a'.repeat(64), nowMs)
  for (const [index, designation] of designations.entries()) {
    const { lastInsertRowid } = db
      .prepare(
        `INSERT INTO tire_sizes (id, account_id, version, designation, overall_diameter_m, created_at_ms, changed_at_ms)
         VALUES (?, ?, 1, ?, 0.66, ?, ?)`,
      )
      .run(id(10 + index), id(1), designation, nowMs, nowMs)
    db.prepare("INSERT INTO tire_size_revisions VALUES (?, 1, 'created', ?, ?, ?)").run(
      lastInsertRowid,
      nowMs,
      id(2),
      JSON.stringify({ size: designation, overallDiameter: { mm: 660 } }),
    )
  }
  db.close()
  return file
}

const migrated = (designations: readonly string[]) => {
  const db = openDatabase({ file: fileWith(designations), nowMs })
  const now = db.prepare('SELECT designation FROM tire_sizes ORDER BY number').pluck().all()
  db.close()
  return now
}

test('a stored size of one decimal takes the designation that a lookup of its size has', () => {
  const sizes = [
    '5.2-16',
    '10.5-16',
    '7.5R16C',
    '6.5B15',
    '8.0-16.5LT',
    '5.9/6.2-17',
    '9.5/10.5R15',
    '5.9/6.25-17',
  ]
  expect(migrated(sizes)).toEqual(sizes.map((size) => parseTireSize(size).designation))
})

test('other sizes keep theirs', () => {
  const sizes = ['5.20-13', 'G78-15', '205/70R14', '275/70R22.5', '31x10.5R15', '31.5x10.5R15', '8.00-16.5LT']
  expect(migrated(sizes)).toEqual(sizes)
})

// Until 2026-11 the old row was mended where computations read it, and nowhere else: a list by its size did not find it.
test('the row is found by its size, and its size is taken', async () => {
  const store = openSqliteStore({ file: fileWith(['5.2-16']), clock: () => nowMs })
  const page = { limit: 10 }
  expect((await store.tireSizes.list({ designation: '5.20-16' }, page)).items.map((row) => row.id)).toEqual([
    id(10),
  ])
  const author = { accountId: id(1), keyId: id(2), changesOthers: false }
  const again = { designation: '5.20-16', overallDiameterM: 0.65, content: '{}' }
  expect(await store.tireSizes.create(author, again)).toEqual({ outcome: 'taken', id: id(10) })
  await store.close()
})

test('a newer row of the same size holds, and the file opens', () => {
  expect(migrated(['5.2-16', '5.20-16'])).toEqual(['5.2-16', '5.20-16'])
})
