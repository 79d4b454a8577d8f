import type { Database } from 'better-sqlite3'
import { StoreError, type StoreErrorCode } from '../store/errors.js'
import type { Clock } from '../store.js'
import type { Memory, Prepared, Query, Result, Session, Unit, Values } from '../units/session.js'
import { GroupCommit, UnknownOutcome } from './group-commit.js'

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

/** A part of a unit that has its result already: SQLite executes a statement at once. */
class Done<T> implements Unit<T>, Iterator<Query, T, Result> {
  private readonly value: T

  constructor(value: T) {
    this.value = value
  }

  [Symbol.iterator](): this {
    return this
  }

  next(): IteratorReturnResult<T> {
    return { done: true, value: this.value }
  }
}

function resultOf<T>(unit: Unit<T>): T {
  const step = unit[Symbol.iterator]().next()
  if (step.done !== true) throw new Error(`a unit of work of SQLite does not pause: ${step.value.text}`)
  return step.value
}

function prepared<Row>(db: Database, sql: string): Prepared<Row> {
  const statement = db.prepare<unknown[], Row>(sql)
  return {
    get: (...values: Values) => new Done(statement.get(...values)),
    all: (...values: Values) => new Done(statement.all(...values)),
    run(...values: Values) {
      statement.run(...values)
      return NOTHING
    },
    count: (...values: Values) => new Done(statement.run(...values).changes),
    insert: (...values: Values) => new Done(Number(statement.run(...values).lastInsertRowid)),
  }
}

const NOTHING = new Done<void>(undefined)

/** Values that hold while a state stays the same. */
function memory<T>(max: number, state: () => unknown): Memory<T> {
  const values = new Map<string, T>()
  let knownState: unknown
  return {
    *get(key, read) {
      const now = state()
      if (now !== knownState || values.size >= max) values.clear()
      knownState = now
      let value = values.get(key)
      if (value === undefined) {
        value = yield* read()
        if (value !== undefined) values.set(key, value)
      }
      return value
    },
    clear: () => values.clear(),
  }
}

export function openSession(db: Database, nowMs: Clock): Session & { flush(): void } {
  const commits = new GroupCommit(db)
  // Changes with commits of other connections only; those of this one are counted.
  const dataVersion = db.prepare<[], number>('PRAGMA data_version').pluck()
  const changesElsewhere = () => dataVersion.get()!
  let units = 0
  const read: Session['read'] =
    (work) =>
    async (...given) => {
      try {
        return resultOf(work(...given))
      } catch (error) {
        throw storeError(error)
      }
    }
  return {
    nowMs,
    prepare: (sql) => prepared(db, sql),
    read,
    snapshot: read,
    write:
      (work) =>
      (...given) =>
        commits
          .run(() => {
            units++
            return resultOf(work(...given))
          })
          .catch((error: unknown) => {
            throw storeError(error)
          }),
    memory: ({ max, isClearedByOwnWrites }) =>
      memory(max, isClearedByOwnWrites ? () => `${units}/${changesElsewhere()}` : changesElsewhere),
    flush: () => commits.flush(),
  }
}
