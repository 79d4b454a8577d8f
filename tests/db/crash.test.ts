import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { join } from 'node:path'
import { createInterface } from 'node:readline'
import SqliteDatabase from 'better-sqlite3'
import { beforeAll, expect, test } from 'vitest'
import { openSqliteStore } from '../../src/db/sqlite/sqlite-store.js'
import { build } from '../support/build.js'
import { tempFolder } from '../support/temp.js'

/** `npm run torture` asks for more. */
const ROUNDS = Number(process.env.CRASH_ROUNDS ?? 30)
/** The checks after each kill read the whole file: a thousand rounds on one would take hours. */
const ROUNDS_OF_A_FILE = 50

const WRITER = join(import.meta.dirname, '../support/crash-writer.mjs')

interface VehicleAck {
  readonly id: string
  readonly version: number
  /** Absent when the vehicle was deleted. */
  readonly mark?: string
  readonly key?: string
}

interface CalibrationAck {
  readonly calibration: string
  readonly vehicle: string
}

type Ack = VehicleAck | CalibrationAck

/** Lets a writer loose and kills it after `ms` from its first write; what it told was acknowledged. */
async function killedWriter(file: string, ms: number): Promise<Ack[]> {
  const child = spawn(process.execPath, [WRITER, file], { stdio: ['ignore', 'pipe', 'inherit'] })
  const acks: Ack[] = []
  const lines = createInterface(child.stdout)
  lines.on('line', (line) => {
    // The last line may be cut off by the kill: its write was acknowledged, but not told.
    if (line.endsWith('}')) acks.push(JSON.parse(line))
  })
  lines.once('line', () => setTimeout(() => child.kill('SIGKILL'), ms))
  const [[, signal]] = await Promise.all([once(child, 'exit'), once(lines, 'close')])
  expect(signal).toBe('SIGKILL')
  return acks
}

/** Acknowledged writes that the file does not hold. */
function lostOf(db: SqliteDatabase.Database, acks: readonly Ack[]): Ack[] {
  const revision = db.prepare<[string, number], { change: string; profile: string | null }>(
    'SELECT change, profile FROM vehicle_revisions WHERE vehicle_id = ? AND version = ?',
  )
  const stored = db
    .prepare<[string], string>('SELECT body FROM kept_answers WHERE idempotency_key = ?')
    .pluck()
  const calibration = db.prepare<[string], string>('SELECT vehicle_id FROM calibrations WHERE id = ?').pluck()
  return acks.filter((ack) => {
    if ('calibration' in ack) return calibration.get(ack.calibration) !== ack.vehicle
    const row = revision.get(ack.id, ack.version)
    if (row === undefined || (ack.key !== undefined && stored.get(ack.key) !== ack.id)) return true
    return ack.mark === undefined ? row.change !== 'deleted' : JSON.parse(row.profile!).mark !== ack.mark
  })
}

/** Inconsistent vehicles, responses stored without their vehicle, and remains of failed units. */
function halvesOf(db: SqliteDatabase.Database): unknown[] {
  return [
    ...db
      .prepare(
        `SELECT id FROM vehicles JOIN vehicle_revisions ON vehicle_id = id GROUP BY id
         HAVING max(vehicle_revisions.version) <> vehicles.version OR count(*) <> vehicles.version
           OR (deleted_at_ms IS NOT NULL) <> (sum(change = 'deleted') = 1)`,
      )
      .all(),
    ...db.prepare('SELECT id FROM vehicles WHERE id NOT IN (SELECT vehicle_id FROM vehicle_revisions)').all(),
    ...db
      .prepare('SELECT idempotency_key FROM kept_answers WHERE body NOT IN (SELECT id FROM vehicles)')
      .all(),
    ...db.prepare("SELECT id FROM vehicles WHERE reference = 'half'").all(),
    ...db
      .prepare('SELECT id FROM keys WHERE id NOT IN (SELECT key_id FROM audit WHERE key_id IS NOT NULL)')
      .all(),
  ]
}

beforeAll(build, 120_000)

/** Kills writers of one file, so many one after the other. @returns Number of acknowledged writes */
async function killWriters(rounds: number): Promise<number> {
  const file = join(tempFolder(), 'crash.sqlite')
  const all: Ack[] = []
  for (let round = 0; round < rounds; round++) {
    const acks = await killedWriter(file, Math.random() * 150)
    all.push(...acks)
    // The service's own way to open it, as after any crash.
    await openSqliteStore({ file, clock: Date.now }).close()
    const db = new SqliteDatabase(file, { readonly: true })
    expect(lostOf(db, acks)).toEqual([])
    expect(halvesOf(db)).toEqual([])
    db.close()
  }
  const db = new SqliteDatabase(file, { readonly: true })
  expect(lostOf(db, all)).toEqual([])
  expect(db.pragma('integrity_check', { simple: true })).toBe('ok')
  expect(db.pragma('foreign_key_check')).toEqual([])
  db.close()
  return all.length
}

test(`${ROUNDS} times kill -9 in the middle of writes: nothing acknowledged is lost, nothing is half there`, {
  timeout: 60_000 + ROUNDS * 5_000,
}, async () => {
  let writes = 0
  for (let left = ROUNDS; left > 0; left -= ROUNDS_OF_A_FILE)
    writes += await killWriters(Math.min(left, ROUNDS_OF_A_FILE))
  // The writers were at work: most kills fell between writes.
  expect(writes).toBeGreaterThan(ROUNDS * 10)
  console.log(`${ROUNDS} kills, ${writes} acknowledged writes`)
})

const PAIRS = Math.ceil(ROUNDS / 2)

test(`${PAIRS} times kill -9 of two processes that write to one file: nothing acknowledged is lost, and none waits in vain`, {
  timeout: 60_000 + PAIRS * 10_000,
}, async () => {
  const file = join(tempFolder(), 'two.sqlite')
  const all: Ack[] = []
  for (let round = 0; round < PAIRS; round++) {
    // The one that is killed first may have held the lock; a writer that waits in vain ends with an error, which is no SIGKILL.
    const acks = await Promise.all([
      killedWriter(file, Math.random() * 150),
      killedWriter(file, Math.random() * 600),
    ])
    all.push(...acks.flat())
    await openSqliteStore({ file, clock: Date.now }).close()
    const db = new SqliteDatabase(file, { readonly: true })
    expect(lostOf(db, all)).toEqual([])
    expect(halvesOf(db)).toEqual([])
    db.close()
  }
  const db = new SqliteDatabase(file, { readonly: true })
  expect(db.pragma('integrity_check', { simple: true })).toBe('ok')
  expect(db.pragma('foreign_key_check')).toEqual([])
  db.close()
  expect(all.length).toBeGreaterThan(PAIRS * 10)
  console.log(`${PAIRS} pairs of kills, ${all.length} acknowledged writes`)
})
