import { accessSync, closeSync, constants, existsSync, mkdirSync, openSync, statSync } from 'node:fs'
import { dirname } from 'node:path'
import SqliteDatabase, { type Database } from 'better-sqlite3'
import { type Migration, readMigrations } from '../migrations.js'
import { OpenError } from '../open-error.js'
import { assertFileKnown, migrate } from './migrations.js'

/** "WtoD": the application id that distinguishes the file from other SQLite files. */
export const APPLICATION_ID = 0x57_74_6f_44

export const MEMORY = ':memory:'

/** Modes that give access to the owner only: the file contains the vehicles of every account and hashes of keys. */
export const OWNER_ONLY = 0o600
const FOLDER_OF_OWNER = 0o700

/** Lock timeout while opening, when another process may be opening the file; later it would block every request. */
const OPENING_TIMEOUT_MS = 5_000
/**
 * Blocking lock timeout once the store is open: a read waits only while another process repairs the log, and writes wait in
 * `GroupCommit`, without blocking.
 */
const OPEN_TIMEOUT_MS = 20

export interface OpenOptions {
  /** Path of the file, or `:memory:`. Created if it does not exist. */
  readonly file: string
  readonly nowMs: number
  readonly migrations?: readonly Migration[]
}

const notSqlite = (file: string, options?: ErrorOptions) =>
  new OpenError('foreign-file', `${file} is not an SQLite file. Name another DATABASE_FILE.`, options)

/** Refuses a file of another program before anything is written to it. */
function assertOurs(db: Database): void {
  let applicationId: number
  let tables: number
  try {
    applicationId = db.pragma('application_id', { simple: true }) as number
    tables = db.prepare<[], number>('SELECT count(*) FROM sqlite_schema').pluck().get()!
  } catch (cause) {
    if ((cause as { code?: string }).code !== 'SQLITE_NOTADB') throw cause
    throw notSqlite(db.name, { cause })
  }
  const empty = applicationId === 0 && tables === 0
  if (applicationId !== APPLICATION_ID && !empty) {
    throw new OpenError(
      'foreign-file',
      `${db.name} is an SQLite file of another program. Name another DATABASE_FILE.`,
    )
  }
}

function assertSound(db: Database): void {
  const fault = db.pragma('quick_check(1)', { simple: true }) as string
  // The first line names the database, which has only one.
  if (fault !== 'ok') throw damaged(db.name, fault.split('\n').at(-1)!)
}

const isDamage = (error: unknown) => (error as { code?: string }).code?.startsWith('SQLITE_CORRUPT')

const damaged = (file: string, fault: string) =>
  new OpenError(
    'damaged-file',
    `${file} is damaged (${fault}). Put a backup in its place: wheel-to-dial restore FILE, in a clone npm run restore -- FILE.`,
  )

const cannotOpen = (file: string, reason: string, options?: ErrorOptions) =>
  new OpenError('cannot-open', `${file} cannot be used: ${reason}. Set DATABASE_FILE.`, options)

function makeFolder(folder: string, file: string): void {
  try {
    mkdirSync(folder, { recursive: true, mode: FOLDER_OF_OWNER })
    // SQLite creates further files next to the database.
    accessSync(folder, constants.W_OK)
  } catch (cause) {
    const { code } = cause as NodeJS.ErrnoException
    throw cannotOpen(file, `its folder is not there or not writable for this user (${code})`, { cause })
  }
}

/** Creates the file for its owner only; SQLite would let everyone read it. Its other files inherit the mode. */
function makeFile(file: string): void {
  try {
    closeSync(openSync(file, 'a', OWNER_ONLY))
  } catch (cause) {
    const { code } = cause as NodeJS.ErrnoException
    throw cannotOpen(file, `it cannot be made (${code})`, { cause })
  }
}

function assertWritable(file: string): void {
  if (!statSync(file).isFile()) throw cannotOpen(file, 'it is not a file')
  try {
    accessSync(file, constants.R_OK | constants.W_OK)
  } catch (cause) {
    const { code } = cause as NodeJS.ErrnoException
    throw cannotOpen(file, `it is not readable and writable for this user (${code})`, { cause })
  }
}

/** The smallest page, which is the smallest database [bytes]. */
const MIN_BYTES = 512

const sizeOf = (file: string) => statSync(file, { throwIfNoEntry: false })?.size ?? 0

/** Refuses a file that is of another program, truncated or too new, without changing a byte of it. */
function inspect(file: string, migrations: readonly Migration[]): void {
  // SQLite treats a file with less than a page as empty and overwrites it.
  if (sizeOf(file) < MIN_BYTES) throw notSqlite(file)
  // A connection that may write would checkpoint the log into the file on close.
  const readonly = sizeOf(`${file}-wal`) > 0
  const db = new SqliteDatabase(file, { readonly, timeout: OPENING_TIMEOUT_MS })
  try {
    assertOurs(db)
    assertFileKnown(db, migrations)
    assertSound(db)
  } catch (error) {
    throw isDamage(error) ? damaged(file, (error as Error).message) : error
  } finally {
    db.close()
  }
}

/** Interval at which the journal of a new file is tried to be switched [ms]. */
const SWITCH_EVERY_MS = 5

/** Switches the journal to WAL. SQLite does not wait for another process that switches the same new file at this moment. */
function switchToWal(db: Database): void {
  const endMs = performance.now() + OPENING_TIMEOUT_MS
  for (;;) {
    try {
      db.pragma('journal_mode = WAL')
      return
    } catch (error) {
      if ((error as { code?: string }).code !== 'SQLITE_BUSY' || performance.now() > endMs) throw error
      // Nothing else runs in this process before the store is open.
      Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, SWITCH_EVERY_MS)
    }
  }
}

function makeDurable(db: Database): void {
  // WAL: readers in other processes do not block the writer, and a commit is one sequential write.
  switchToWal(db)
  // FULL: a commit is on the disk before it is acknowledged; group commit syncs once per event-loop iteration.
  db.pragma('synchronous = FULL')
  // The driver is compiled to switch to NORMAL once it has seen that the file is in WAL mode, so check after a read.
  db.prepare('SELECT count(*) FROM sqlite_schema').get()
  const journal = db.pragma('journal_mode', { simple: true })
  const synchronous = db.pragma('synchronous', { simple: true })
  if (journal !== 'wal' || synchronous !== 2) {
    throw new OpenError(
      'not-durable',
      `${db.name}: journal_mode is ${journal} and synchronous is ${synchronous}, expected wal and 2. Keep the file on a local disk, not on a network share.`,
    )
  }
}

function open({ file, nowMs, migrations = readMigrations('sqlite') }: OpenOptions): Database {
  if (file !== MEMORY) {
    makeFolder(dirname(file), file)
    if (existsSync(file)) assertWritable(file)
    else makeFile(file)
    if (sizeOf(file) > 0) inspect(file, migrations)
  }
  const db = new SqliteDatabase(file, { timeout: OPENING_TIMEOUT_MS })
  try {
    if (file !== MEMORY) makeDurable(db)
    db.pragma('foreign_keys = ON')
    // The schema of a manipulated file must not call functions other than those of this program.
    db.pragma('trusted_schema = OFF')
    db.pragma('cell_size_check = ON')
    // Page cache [KiB, hence negative]: repeated reads need no system call.
    db.pragma('cache_size = -65536')
    // The log is truncated after a burst of writes.
    db.pragma(`journal_size_limit = ${16 * 1024 * 1024}`)
    if (db.pragma('application_id', { simple: true }) !== APPLICATION_ID)
      db.pragma(`application_id = ${APPLICATION_ID}`)
    migrate(db, migrations, nowMs)
    return db
  } catch (error) {
    db.close()
    throw error
  }
}

/** Call once everything has been prepared: until then, a lock of another process is waited for. */
export function endOpening(db: Database): void {
  db.pragma(`busy_timeout = ${OPEN_TIMEOUT_MS}`)
}

/** SQLite's codes for errors of the file system. */
const REFUSED = /^SQLITE_(FULL|IOERR|CANTOPEN|READONLY|BUSY|PERM|AUTH|NOMEM)/

/**
 * Opens or creates a database at the newest schema version.
 *
 * @throws {OpenError} if the file cannot be used, is of another program, damaged or newer, or cannot be made durable; an existing
 *   file is not changed
 */
export function openDatabase(options: OpenOptions): Database {
  try {
    return open(options)
  } catch (cause) {
    const { code, message } = cause as { code?: unknown; message: string }
    throw REFUSED.test(String(code)) ? cannotOpen(options.file, `${message}, ${code}`, { cause }) : cause
  }
}
