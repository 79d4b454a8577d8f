import { join } from 'node:path'
import type { Database } from 'better-sqlite3'
import { expect, test } from 'vitest'
import { readMigrations } from '../../src/db/migrations.js'
import { openDatabase } from '../../src/db/sqlite/open.js'
import { exact } from '../../src/domain/measure/figure.js'
import { interfaceKey } from '../../src/domain/parts/mating.js'
import { tempFolder } from '../support/temp.js'

const nowMs = Date.UTC(2026, 0, 1)
const id = (n: number) => `0199a000-0000-7000-8000-${String(n).padStart(12, '0')}`

/** Text that only looks like the names: it must come through as it is. */
const NOTES = 'The shop "promised": "sex":"outer", "takes": "kind":"transfer" and "york-2004"'

const OLD_PROFILE = {
  name: 'Old saloon',
  paths: [
    {
      stages: [
        { kind: 'transfer', ratio: 1.2 },
        { kind: 'ratio-adapter', ratio: 0.9 },
      ],
      head: { takes: 'turns', unit: 'mph' },
      measured: { indicatedPerTrue: 1.02, promised: { indicatedPerTrue: 0.97 } },
    },
  ],
  notes: NOTES,
}
const OLD_RESULT = {
  residuals: [{ reading: 0, outlying: false }],
  scatterExceedsDoubt: true,
  diagnosis: { fault: 'not-told-apart' },
  suggested: { neverUnderConstant: { perKm: 1 }, neverUnderRatio: 1.1, neverUnderOverPercent: 3 },
  sources: ['gum', 'york-2004', 'sen-1968'],
  notes: [{ code: 'scatter-exceeds-doubt', level: 'caution', text: NOTES }],
}
const OLD_REQUEST = { takes: 'pulses', unit: 'kmh', note: NOTES }
const OLD_ADAPTER = { kind: 'ratio-adapter', name: 'Adapter', ratio: 0.9, notes: NOTES }
const OLD_HEAD = { kind: 'head', name: 'Head', takes: 'turns', notes: NOTES }
const OLD_PART = {
  kind: 'cable',
  interfaces: [
    { kind: 'thread', designation: '7/8-18', sex: 'inner' },
    { kind: 'shaft', form: 'square', size: { mm: 3.3 }, sex: 'outer' },
  ],
  notes: NOTES,
}

/** What version 4 stored: a vehicle, a calibration of it, a part with its two index entries, a head, and an adapter with a fit. */
function fill(db: Database): void {
  const insert = (table: string, row: Record<string, unknown>) => {
    const names = Object.keys(row)
    db.prepare(
      `INSERT INTO ${table} (${names.join(', ')}) VALUES (${names.map((name) => `@${name}`).join(', ')})`,
    ).run(row)
  }
  const key_id = id(2)
  const times = { created_at_ms: nowMs, changed_at_ms: nowMs }
  insert('accounts', { id: id(1), name: 'club', created_at_ms: nowMs })
  insert('keys', {
    id: key_id,
    account_id: id(1),
    label: 'key',
    role: 'editor',
    hash: 'a'.repeat(64),
    created_at_ms: nowMs,
  })
  insert('vehicles', { id: id(3), account_id: id(1), version: 1, ...times })
  const made = { version: 1, change: 'created', at_ms: nowMs, key_id }
  insert('vehicle_revisions', { vehicle_id: id(3), ...made, profile: JSON.stringify(OLD_PROFILE) })
  insert('calibrations', {
    id: id(4),
    vehicle_id: id(3),
    version: 1,
    path: 'speedometer',
    accepted: 1,
    request: JSON.stringify(OLD_REQUEST),
    result: JSON.stringify(OLD_RESULT),
    key_id,
    ...times,
  })
  insert('parts', { number: 1, id: id(5), account_id: id(1), version: 1, kind: 'cable', ...times })
  insert('part_revisions', { part: 1, ...made, content: JSON.stringify(OLD_PART) })
  insert('parts', { number: 2, id: id(6), account_id: id(1), version: 1, kind: 'ratio-adapter', ...times })
  insert('part_revisions', { part: 2, ...made, content: JSON.stringify(OLD_ADAPTER) })
  insert('fits', {
    id: id(7),
    account_id: id(1),
    key_id,
    part: 2,
    part_kind: 'ratio-adapter',
    other_part: 1,
    content: '{}',
    created_at_ms: nowMs,
  })
  insert('parts', { number: 3, id: id(8), account_id: id(1), version: 1, kind: 'head', ...times })
  insert('part_revisions', { part: 3, ...made, content: JSON.stringify(OLD_HEAD) })
  insert('part_interfaces', {
    part: 1,
    position: 0,
    key: 'thread/60/right/inner',
    primary_m: 0.022225,
    secondary_m: 0.0014,
  })
  insert('part_interfaces', {
    part: 1,
    position: 1,
    key: 'shaft/square/outer',
    primary_m: 0.0033,
    secondary_m: 0,
  })
}

test('a file of 0.1 is given the names of 0.2, and texts that look like the old ones stay', () => {
  const file = join(tempFolder(), 'old.sqlite')
  const old = openDatabase({ file, nowMs, migrations: readMigrations('sqlite').slice(0, 4) })
  fill(old)
  old.close()
  const db = openDatabase({ file, nowMs })
  const json = (sql: string) => JSON.parse(db.prepare(sql).pluck().get() as string)
  expect(json('SELECT profile FROM vehicle_revisions')).toEqual({
    name: 'Old saloon',
    paths: [
      {
        stages: [
          { kind: 'transfer-case', ratio: 1.2 },
          { kind: 'adapter', ratio: 0.9 },
        ],
        head: { input: 'turns', unit: 'mph' },
        measured: { indicatedPerTrue: 1.02, computed: { indicatedPerTrue: 0.97 } },
      },
    ],
    notes: NOTES,
  })
  expect(json('SELECT request FROM calibrations')).toEqual({ input: 'pulses', unit: 'kmh', note: NOTES })
  expect(json('SELECT result FROM calibrations')).toEqual({
    residuals: [{ reading: 0, outlier: false }],
    scatterExceedsUncertainty: true,
    diagnosis: { fault: 'not-distinguishable' },
    suggested: {
      noUnderReadingConstant: { perKm: 1 },
      noUnderReadingRatio: 1.1,
      noUnderReadingErrorPercent: 3,
    },
    sources: ['gum', 'line-fit-both-uncertain', 'robust-line-fit'],
    notes: [{ code: 'scatter-exceeds-uncertainty', level: 'caution', text: NOTES }],
  })
  expect(json('SELECT content FROM part_revisions WHERE part = 1')).toEqual({
    kind: 'cable',
    interfaces: [
      { kind: 'thread', designation: '7/8-18', gender: 'female' },
      { kind: 'shaft', form: 'square', size: { mm: 3.3 }, gender: 'male' },
    ],
    notes: NOTES,
  })
  expect(json('SELECT content FROM part_revisions WHERE part = 2')).toEqual({
    ...OLD_ADAPTER,
    kind: 'adapter',
  })
  expect(json('SELECT content FROM part_revisions WHERE part = 3')).toEqual({
    kind: 'head',
    name: 'Head',
    input: 'turns',
    notes: NOTES,
  })
  expect(db.prepare('SELECT kind FROM parts ORDER BY number').pluck().all()).toEqual([
    'cable',
    'adapter',
    'head',
  ])
  expect(db.prepare('SELECT part_kind FROM fits').pluck().all()).toEqual(['adapter'])
  // The index finds the part under the keys that a search looks for now.
  expect(db.prepare('SELECT key FROM part_interfaces ORDER BY position').pluck().all()).toEqual([
    interfaceKey({ kind: 'thread', designation: '7/8-18', gender: 'female' }).key,
    interfaceKey({ kind: 'shaft', form: 'square', sizeM: exact(0.0033), gender: 'male' }).key,
  ])
  db.close()
})
