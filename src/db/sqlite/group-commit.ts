import type { Database, Statement } from 'better-sqlite3'

interface Unit {
  readonly work: () => unknown
  readonly resolve: (value: unknown) => void
  readonly reject: (error: unknown) => void
}

type Outcome = { readonly value: unknown } | { readonly error: unknown }

/** Most units in one transaction; others wait for the next iteration of the event loop, so that reads go on in between. */
const MAX_UNITS = 256

/**
 * How long units wait for a lock held by another process, and the interval of retries. A commit takes about a millisecond: with a longer
 * interval, two processes would leave the disk idle for most of the time.
 */
const LOCK_TIMEOUT_MS = 5_000
const RETRY_MS = 1

const codeOf = (error: unknown) => String((error as { code?: unknown } | undefined)?.code ?? '')

const isBusy = (error: unknown) => codeOf(error).startsWith('SQLITE_BUSY')

/** A transaction was rolled back for all open connections, but may reappear after a crash. */
export class UnknownOutcome extends Error {}

/**
 * Group commit: units of work of one event-loop iteration share a transaction, and so one sync of the disk; each has its own savepoint,
 * so that a failure does not undo the others. The promise of a unit resolves after the commit: what is acknowledged is
 * on the disk.
 *
 * A commit whose sync fails is rolled back, but its pages are in the write-ahead log, complete and marked as committed: after a crash
 * SQLite would apply them, although the change was refused. So they are overwritten at once.
 */
export class GroupCommit {
  private readonly db: Database
  private readonly beginStatement: Statement
  private readonly commit: Statement
  private readonly rollback: Statement
  private readonly savepoint: Statement
  private readonly release: Statement
  private readonly rollbackTo: Statement
  private readonly version: Statement<[], number>
  /** Whether a failed commit is in the log and not yet overwritten. */
  private hasLeftover = false
  private waiting: Unit[] = []
  private scheduled = false
  private busySinceMs: number | undefined

  constructor(db: Database) {
    this.db = db
    this.beginStatement = db.prepare('BEGIN IMMEDIATE')
    this.commit = db.prepare('COMMIT')
    this.rollback = db.prepare('ROLLBACK')
    this.savepoint = db.prepare('SAVEPOINT unit')
    this.release = db.prepare('RELEASE unit')
    this.rollbackTo = db.prepare('ROLLBACK TO unit')
    this.version = db.prepare<[], number>('PRAGMA user_version').pluck()
  }

  /**
   * Runs one synchronous unit of work in the transaction of this event-loop iteration.
   *
   * @param work - Reads and writes; a throw undoes this unit alone and rejects the promise
   * @returns What the unit returned, after the commit
   */
  run<T>(work: () => T): Promise<T> {
    return new Promise((resolve, reject) => {
      this.waiting.push({ work, resolve: resolve as (value: unknown) => void, reject })
      this.schedule()
    })
  }

  /** Commits all waiting units now; call before closing the file. */
  flush(): void {
    while (this.waiting.length > 0) this.turn(true)
  }

  private schedule(): void {
    if (this.scheduled) return
    this.scheduled = true
    setImmediate(() => {
      this.scheduled = false
      if (this.waiting.length > 0) this.turn(false)
    })
  }

  private turn(last: boolean): void {
    const units = this.waiting.splice(0, MAX_UNITS)
    try {
      if (this.hasLeftover) this.writeOver()
      // The last turn cannot be postponed.
      this.begin(last ? LOCK_TIMEOUT_MS : 0)
    } catch (error) {
      this.postpone(units, error, last)
      return
    }
    this.busySinceMs = undefined
    let outcomes: Outcome[]
    let isCommitting = false
    try {
      outcomes = units.map((unit) => this.inSavepoint(unit))
      isCommitting = true
      this.commit.run()
    } catch (error) {
      // A full disk or a failed write rolls back the whole transaction: no unit is acknowledged.
      this.undo()
      const refusal = isCommitting ? this.afterFailedCommit(error) : error
      for (const unit of units) unit.reject(refusal)
      outcomes = []
    }
    for (const [index, outcome] of outcomes.entries()) {
      if ('error' in outcome) units[index]!.reject(outcome.error)
      else units[index]!.resolve(outcome.value)
    }
    if (this.waiting.length > 0) this.schedule()
  }

  /**
   * Begins the transaction.
   *
   * @param waitMs - How long SQLite sleeps for the lock of another process, with the event loop blocked; other statements keep their timeout
   */
  private begin(waitMs: number): void {
    const timeoutMs = this.db.pragma('busy_timeout', { simple: true })
    this.db.pragma(`busy_timeout = ${waitMs}`)
    try {
      this.beginStatement.run()
    } finally {
      this.db.pragma(`busy_timeout = ${timeoutMs}`)
    }
  }

  private undo(): void {
    // After most failures SQLite has already rolled back.
    if (this.db.inTransaction) this.rollback.run()
  }

  /** Overwrites a failed commit in the log. @returns The error for the units of that commit */
  private afterFailedCommit(error: unknown): unknown {
    const code = codeOf(error)
    // A failed write leaves no complete commit in the log.
    if (!code.startsWith('SQLITE_IOERR') || code === 'SQLITE_IOERR_WRITE') return error
    this.hasLeftover = true
    try {
      this.writeOver()
    } catch (cause) {
      if (this.hasLeftover) return new UnknownOutcome('a failed commit is still in the log', { cause })
    }
    return error
  }

  /** Overwrites the failed commit by one that changes nothing. */
  private writeOver(): void {
    try {
      this.begin(0)
      // Writes the first page although its content does not change.
      this.db.pragma(`user_version = ${this.version.get()}`)
      this.commit.run()
      this.hasLeftover = false
    } catch (error) {
      this.undo()
      // If only the sync failed, the commit that may reappear is this one, which is harmless.
      if (codeOf(error) === 'SQLITE_IOERR_FSYNC') this.hasLeftover = false
      throw error
    }
  }

  /** @throws if the failure rolled back the whole transaction, not only this unit */
  private inSavepoint({ work }: Unit): Outcome {
    this.savepoint.run()
    try {
      const value = work()
      this.release.run()
      return { value }
    } catch (error) {
      if (!this.db.inTransaction) throw error
      this.rollbackTo.run()
      this.release.run()
      return { error }
    }
  }

  private postpone(units: Unit[], error: unknown, last: boolean): void {
    const nowMs = performance.now()
    this.busySinceMs ??= nowMs
    if (last || !isBusy(error) || nowMs - this.busySinceMs > LOCK_TIMEOUT_MS) {
      this.busySinceMs = undefined
      for (const unit of units) unit.reject(error)
      if (this.waiting.length > 0) this.schedule()
      return
    }
    this.waiting.unshift(...units)
    this.scheduled = true
    setTimeout(() => {
      this.scheduled = false
      this.turn(false)
    }, RETRY_MS)
  }
}
