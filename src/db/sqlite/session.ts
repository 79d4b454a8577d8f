import type { Database } from 'better-sqlite3'
import { StoreError, type StoreErrorCode } from '../store/errors.js'
import type { Clock } from '../store.js'
import { GroupCommit, UnknownOutcome } from './group-commit.js'

/** Database access for the implementation of each subject: prepare statements once, then run units of work. */
export interface Session {
  readonly db: Database
  readonly nowMs: Clock
  /** Runs a read at once. */
  read<T>(work: () => T): Promise<T>
  /** Runs a unit of work in the transaction of this event-loop iteration; resolves when it is on the disk. A throw rolls it back. */
  write<T>(work: () => T): Promise<T>
  /** A number that changes with each commit of another connection, in this process or another. */
  changesElsewhere(): number
  /** A value that changes with each change of the database, by this process or another. */
  state(): string
}

/** Operational failures of SQLite, by the start of their code. */
const FAILURES: ReadonlyArray<readonly [RegExp, StoreErrorCode]> = [
  // SHMSIZE: no space to grow the index of the write-ahead log.
  [/^SQLITE_(FULL|IOERR_SHMSIZE)/, 'disk-full'],
  [/^SQLITE_IOERR/, 'disk-failed'],
  [/^SQLITE_(CORRUPT|NOTADB)/, 'damaged'],
  [/^SQLITE_(BUSY|LOCKED)/, 'held'],
  [/^SQLITE_(READONLY|CANTOPEN|NOMEM)/, 'unavailable'],
]

function storeError(error: unknown): unknown {
  if (error instanceof UnknownOutcome) {
    return new StoreError('outcome-unknown', 'the disk failed in the middle of a commit', { cause: error })
  }
  const sqliteCode = (error as { code?: unknown }).code
  if (typeof sqliteCode !== 'string') return error
  const code = FAILURES.find(([pattern]) => pattern.test(sqliteCode))?.[1]
  if (code === undefined) return error
  return new StoreError(code, `the store cannot be used now (${sqliteCode})`, { cause: error })
}

export function openSession(db: Database, nowMs: Clock): Session & { flush(): void } {
  const commits = new GroupCommit(db)
  // Changes with commits of other connections only; those of this one are counted.
  const dataVersion = db.prepare<[], number>('PRAGMA data_version').pluck()
  const changesElsewhere = () => dataVersion.get()!
  let units = 0
  return {
    db,
    nowMs,
    async read(work) {
      try {
        return work()
      } catch (error) {
        throw storeError(error)
      }
    },
    write: (work) =>
      commits
        .run(() => {
          units++
          return work()
        })
        .catch((error: unknown) => {
          throw storeError(error)
        }),
    changesElsewhere,
    state: () => `${units}/${changesElsewhere()}`,
    flush: () => commits.flush(),
  }
}
