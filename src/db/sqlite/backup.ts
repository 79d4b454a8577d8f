import { createHash } from 'node:crypto'
import {
  closeSync,
  existsSync,
  fsyncSync,
  openSync,
  readFileSync,
  readSync,
  renameSync,
  rmSync,
  statSync,
  writeFileSync,
} from 'node:fs'
import { basename, dirname } from 'node:path'
import SqliteDatabase, { type Database } from 'better-sqlite3'
import { readMigrations } from '../migrations.js'
import { OpenError } from '../open-error.js'
import { APPLICATION_ID, OWNER_ONLY } from './open.js'

/** Contents of a verified database file. */
export interface FileReport {
  readonly file: string
  readonly bytes: number
  readonly schemaVersion: number
  /** Rows of every table. */
  readonly rows: Readonly<Record<string, number>>
}

export interface RestoreReport extends FileReport {
  /** Path of the previous database file; left out if there was none. */
  readonly setAside?: string
  /** Whether the backup has the SHA-256 recorded when it was made. */
  readonly sameAsMade: boolean
}

/** Bytes read at a time. */
const CHUNK = 1_048_576

/** Passes the bytes of a file to `take`. @returns SHA-256 of the file */
function readThrough(file: string, take: (chunk: Buffer) => void = () => undefined): string {
  const hash = createHash('sha256')
  const room = Buffer.allocUnsafe(CHUNK)
  const handle = openSync(file, 'r')
  try {
    for (let length = readSync(handle, room); length > 0; length = readSync(handle, room)) {
      const chunk = room.subarray(0, length)
      hash.update(chunk)
      take(chunk)
    }
  } finally {
    closeSync(handle)
  }
  return hash.digest('hex')
}

/** @returns SHA-256 of the copy */
function copyForOwner(from: string, to: string): string {
  const handle = openSync(to, 'wx', OWNER_ONLY)
  try {
    return readThrough(from, (chunk) => writeFileSync(handle, chunk))
  } finally {
    closeSync(handle)
  }
}

/** The file next to a backup with its SHA-256, in the format of `sha256sum -c`. */
const digestFileOf = (backup: string) => `${backup}.sha256`

/** The SHA-256 recorded when the backup was made; undefined if there is no such file. */
function digestWhenMade(backup: string): string | undefined {
  const file = digestFileOf(backup)
  if (!existsSync(file)) return undefined
  const digest = /^([0-9a-f]{64}) /.exec(readFileSync(file, 'utf8'))?.[1]
  if (digest === undefined) throw new OpenError('damaged-file', `${file} holds no SHA-256.`)
  return digest
}

function syncToDisk(path: string): void {
  const handle = openSync(path, 'r')
  try {
    fsyncSync(handle)
  } finally {
    closeSync(handle)
  }
}

/** Renames a finished file to its final name: after a crash there is either the whole file or none. */
function putInPlace(part: string, file: string): void {
  syncToDisk(part)
  renameSync(part, file)
  // Not every system can sync a folder; the rename alone is enough if only the program crashes.
  if (process.platform !== 'win32') syncToDisk(dirname(file))
}

/** @throws {OpenError} `cannot-open`, naming the file */
function openThere(file: string, timeout?: number): Database {
  try {
    return new SqliteDatabase(file, { fileMustExist: true, ...(timeout === undefined ? {} : { timeout }) })
  } catch (cause) {
    const reason = existsSync(file) ? (cause as Error).message : 'there is no such file'
    throw new OpenError('cannot-open', `${file} cannot be opened: ${reason}.`, { cause })
  }
}

function inspect(db: Database): Omit<FileReport, 'file' | 'bytes'> {
  if (db.pragma('application_id', { simple: true }) !== APPLICATION_ID) {
    throw new OpenError('foreign-file', `${db.name} is not a database of this program.`)
  }
  const schemaVersion = db.pragma('user_version', { simple: true }) as number
  if (schemaVersion > readMigrations('sqlite').length) {
    throw new OpenError(
      'newer-file',
      `${db.name} has schema version ${schemaVersion}, later than this program knows.`,
    )
  }
  const faults = (db.pragma('integrity_check') as Array<{ integrity_check: string }>)
    .map((row) => row.integrity_check)
    .filter((text) => text !== 'ok')
  if (faults.length > 0) throw new OpenError('damaged-file', `${db.name} is damaged: ${faults[0]}`)
  if ((db.pragma('foreign_key_check') as unknown[]).length > 0)
    throw new OpenError('damaged-file', `${db.name} is damaged: rows refer to rows that are not there.`)
  const tables = db
    .prepare<[], string>(
      "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name",
    )
    .pluck()
    .all()
  const rows = Object.fromEntries(
    tables.map((name) => [name, db.prepare<[], number>(`SELECT count(*) FROM "${name}"`).pluck().get()!]),
  )
  return { schemaVersion, rows }
}

/**
 * Reads a whole database file and verifies it: pages, indexes, constraints, references.
 *
 * @throws {OpenError} `cannot-open`, `foreign-file`, `newer-file`, `damaged-file`
 */
export function verifyFile(file: string): FileReport {
  const db = openThere(file)
  try {
    return { file, bytes: statSync(file).size, ...inspect(db) }
  } catch (cause) {
    const { code } = cause as { code?: string }
    if (code === 'SQLITE_NOTADB')
      throw new OpenError('foreign-file', `${file} is not an SQLite file.`, { cause })
    if (code?.startsWith('SQLITE_CORRUPT'))
      throw new OpenError('damaged-file', `${file} is damaged.`, { cause })
    throw cause
  } finally {
    db.close()
  }
}

/**
 * Copies a consistent snapshot of a database while the service goes on writing, and verifies the copy. Its SHA-256 is written next to it:
 * SQLite detects inconsistent pages, but not a changed character in a text.
 *
 * @param target - Must not exist: a backup is never written over another
 */
export function backupDatabase(source: string, target: string): FileReport {
  if (existsSync(target)) throw new Error(`${target} exists; name a new file`)
  const part = `${target}.part`
  rmSync(part, { force: true })
  const db = openThere(source, 5_000)
  try {
    // Created here, since SQLite would create a file that everyone can read.
    closeSync(openSync(part, 'wx', OWNER_ONLY))
    // One read transaction: a snapshot, while writers go on.
    db.prepare('VACUUM INTO ?').run(part)
  } finally {
    db.close()
  }
  const report = verifyFile(part)
  const digestFile = digestFileOf(target)
  writeFileSync(digestFile, `${readThrough(part)}  ${basename(target)}\n`, { mode: OWNER_ONLY })
  syncToDisk(digestFile)
  // Last: a file of that name is a complete backup with its digest.
  putInPlace(part, target)
  return { ...report, file: target }
}

/** Whether a process has the database open. Changes the journal mode; the next start restores it. */
function isInUse(file: string): boolean {
  const db = new SqliteDatabase(file, { fileMustExist: true, timeout: 100 })
  try {
    // Leaving WAL mode needs exclusive access to the file.
    return db.pragma('journal_mode = DELETE', { simple: true }) !== 'delete'
  } catch (error) {
    const code = String((error as { code?: unknown }).code)
    if (code.startsWith('SQLITE_BUSY')) return true
    // A file that cannot be read is not in use: replacing it may be the reason for the restore.
    if (code === 'SQLITE_NOTADB' || code.startsWith('SQLITE_CORRUPT')) return false
    throw error
  } finally {
    db.close()
  }
}

/**
 * Replaces the database by a verified backup. The previous file is renamed, not deleted.
 *
 * @param setAside - Suffix for the name of the previous file
 * @throws {OpenError} if the backup is damaged, or was changed after it was made
 */
export function restoreDatabase(backup: string, target: string, setAside: string): RestoreReport {
  verifyFile(backup)
  if (existsSync(target) && isInUse(target))
    throw new Error(`${target} is in use; stop the service, then restore`)
  const made = digestWhenMade(backup)
  const part = `${target}.part`
  rmSync(part, { force: true })
  const copied = copyForOwner(backup, part)
  if (made !== undefined && copied !== made) {
    rmSync(part)
    throw new OpenError(
      'damaged-file',
      `${backup} was changed after it was made: its SHA-256 is not the one in ${digestFileOf(backup)}. Take another backup.`,
    )
  }
  const report = { ...verifyFile(part), file: target, sameAsMade: made !== undefined }
  const isNew = !existsSync(target)
  // The write-ahead log of the old file must not be applied to the new one.
  for (const suffix of ['', '-wal', '-shm']) {
    if (existsSync(target + suffix)) renameSync(target + suffix, `${target}.${setAside}${suffix}`)
  }
  putInPlace(part, target)
  return isNew ? report : { ...report, setAside: `${target}.${setAside}` }
}
