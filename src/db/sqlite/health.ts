import { stat, statfs } from 'node:fs/promises'
import { dirname } from 'node:path'
import SqliteDatabase from 'better-sqlite3'
import type { HealthStore, StoreFigures } from '../store/health.js'
import { readMigrations } from './migrations.js'
import { MEMORY } from './open.js'
import type { Session } from './session.js'

type Measured = Pick<StoreFigures, 'databaseBytes' | 'walBytes' | 'diskFreeBytes'>

const bytesOf = (file: string) =>
  stat(file).then(
    ({ size }) => size,
    () => 0,
  )

async function measureFile(file: string): Promise<Measured> {
  const [databaseBytes, walBytes, disk] = await Promise.all([
    bytesOf(file),
    bytesOf(`${file}-wal`),
    statfs(dirname(file)),
  ])
  const measured = { databaseBytes, walBytes }
  // Some network and layered file systems do not know their size and report 0 blocks.
  return disk.blocks === 0 ? measured : { ...measured, diskFreeBytes: disk.bavail * disk.bsize }
}

export function sqliteHealth({ db, nowMs, read, write }: Session): HealthStore {
  const one = db.prepare<[], number>('SELECT one FROM health').pluck()
  const probe = db.prepare<[number]>('UPDATE health SET probed_at_ms = ?, probes = probes + 1')
  const backedUp = db.prepare<[], number | null>('SELECT backed_up_at_ms FROM health').pluck()
  const version = db.prepare<[], number>('PRAGMA user_version').pluck()
  const expectedSchemaVersion = readMigrations().length
  return {
    read: () =>
      read(() => {
        one.get()
      }),
    write: () =>
      write(() => {
        probe.run(nowMs())
      }),
    async figures() {
      const kept = await read(() => ({
        schemaVersion: version.get()!,
        backedUpAtMs: backedUp.get() ?? undefined,
      }))
      const measured = db.name === MEMORY ? {} : await measureFile(db.name)
      const figures: StoreFigures = { schemaVersion: kept.schemaVersion, expectedSchemaVersion, ...measured }
      return kept.backedUpAtMs === undefined ? figures : { ...figures, backedUpAtMs: kept.backedUpAtMs }
    },
  }
}

/**
 * Records the time of a verified backup in the database. A file of an older schema has no table for it and is not changed.
 *
 * @returns Whether it was recorded
 */
export function noteBackup(file: string, atMs: number): boolean {
  const db = new SqliteDatabase(file, { fileMustExist: true, timeout: 5_000 })
  try {
    const place = db.prepare("SELECT 1 FROM sqlite_schema WHERE type = 'table' AND name = 'health'").get()
    if (place === undefined) return false
    db.prepare('UPDATE health SET backed_up_at_ms = ?').run(atMs)
    return true
  } finally {
    db.close()
  }
}
