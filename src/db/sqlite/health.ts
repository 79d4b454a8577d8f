import { stat, statfs } from 'node:fs/promises'
import { dirname } from 'node:path'
import SqliteDatabase, { type Database } from 'better-sqlite3'
import { readMigrations } from '../migrations.js'
import type { Measured } from '../units/health.js'
import { MEMORY } from './open.js'

const bytesOf = (file: string) =>
  stat(file).then(
    ({ size }) => size,
    () => 0,
  )

async function measureFile(file: string): Promise<Omit<Measured, 'schemaVersion' | 'expectedSchemaVersion'>> {
  const [databaseBytes, walBytes, disk] = await Promise.all([
    bytesOf(file),
    bytesOf(`${file}-wal`),
    statfs(dirname(file)),
  ])
  const measured = { databaseBytes, walBytes }
  // Some network and layered file systems do not know their size and report 0 blocks.
  return disk.blocks === 0 ? measured : { ...measured, diskFreeBytes: disk.bavail * disk.bsize }
}

/** Makes the measurement of a database and its files. */
export function measurer(db: Database): () => Promise<Measured> {
  const version = db.prepare<[], number>('PRAGMA user_version').pluck()
  const expectedSchemaVersion = readMigrations('sqlite').length
  return async () => {
    const measured = db.name === MEMORY ? {} : await measureFile(db.name)
    return { schemaVersion: version.get()!, expectedSchemaVersion, ...measured }
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
