import type { Database } from 'better-sqlite3'
import { StoreError } from '../store/errors.js'
import type { Clock } from '../store.js'
import { GroupCommit } from './group-commit.js'

/** What the implementation of each subject is given: prepare statements once, then run units of work. */
export interface Session {
  readonly db: Database
  readonly nowMs: Clock
  /** Runs reads that change nothing; at once. */
  read<T>(work: () => T): Promise<T>
  /** Runs one unit of work in the transaction of this turn; resolves when it is on the disk. A throw undoes it. */
  write<T>(work: () => T): Promise<T>
  /** The state of the database: another value after any change, of this process or another. */
  state(): string
}

/** SQLite's failures that are nobody's fault: a full or failing disk, a file held by another process. */
const UNAVAILABLE = /^SQLITE_(FULL|IOERR|BUSY|LOCKED|READONLY|CANTOPEN|NOMEM|CORRUPT|NOTADB)/

function storeError(error: unknown): unknown {
  const { code } = error as { code?: unknown }
  if (typeof code !== 'string' || !UNAVAILABLE.test(code)) return error
  return new StoreError('unavailable', `the store cannot be used now (${code})`, { cause: error })
}

export function openSession(db: Database, nowMs: Clock): Session & { flush(): void } {
  const commits = new GroupCommit(db)
  // Raised by other connections' commits only; this one's own are counted.
  const dataVersion = db.prepare<[], number>('PRAGMA data_version').pluck()
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
    state: () => `${units}/${dataVersion.get()}`,
    flush: () => commits.flush(),
  }
}
