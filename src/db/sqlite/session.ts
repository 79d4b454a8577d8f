import type { Database } from 'better-sqlite3'
import { StoreError, type StoreErrorCode } from '../store/errors.js'
import type { Clock } from '../store.js'
import { GroupCommit, UnknownOutcome } from './group-commit.js'

/** What the implementation of each subject is given: prepare statements once, then run units of work. */
export interface Session {
  readonly db: Database
  readonly nowMs: Clock
  /** Runs reads that change nothing; at once. */
  read<T>(work: () => T): Promise<T>
  /** Runs one unit of work in the transaction of this turn; resolves when it is on the disk. A throw undoes it. */
  write<T>(work: () => T): Promise<T>
  /** Another number after a change by another connection, of this process or another. */
  changesElsewhere(): number
  /** The state of the database: another value after any change, of this process or another. */
  state(): string
}

/** SQLite's failures that are nobody's fault, by the start of its code. */
const FAILURES: ReadonlyArray<readonly [RegExp, StoreErrorCode]> = [
  // The index of the log cannot grow: there is no room for it.
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
  // Raised by other connections' commits only; this one's own are counted.
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
