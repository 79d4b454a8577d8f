import type { Database, Statement } from 'better-sqlite3'

interface Unit {
  readonly work: () => unknown
  readonly resolve: (value: unknown) => void
  readonly reject: (error: unknown) => void
}

type Outcome = { readonly value: unknown } | { readonly error: unknown }

/** Units of one transaction; more wait for the next turn, so that reading goes on in between. */
const MOST_UNITS = 256

/** How long units wait for another process that is writing, and how often they try. */
const PATIENCE_MS = 5_000
const RETRY_MS = 5

const isBusy = (error: unknown) =>
  String((error as { code?: unknown } | undefined)?.code ?? '').startsWith('SQLITE_BUSY')

/**
 * Units of work of one event-loop turn share one transaction, and so one sync of the disk; each has its own savepoint,
 * so that one failing does not undo the others. A unit's promise resolves after the commit: what is acknowledged is
 * on the disk.
 */
export class GroupCommit {
  private readonly db: Database
  private readonly begin: Statement
  private readonly commit: Statement
  private readonly rollback: Statement
  private readonly savepoint: Statement
  private readonly release: Statement
  private readonly rollbackTo: Statement
  private waiting: Unit[] = []
  private scheduled = false
  private busySinceMs: number | undefined

  constructor(db: Database) {
    this.db = db
    this.begin = db.prepare('BEGIN IMMEDIATE')
    this.commit = db.prepare('COMMIT')
    this.rollback = db.prepare('ROLLBACK')
    this.savepoint = db.prepare('SAVEPOINT unit')
    this.release = db.prepare('RELEASE unit')
    this.rollbackTo = db.prepare('ROLLBACK TO unit')
  }

  /**
   * Runs one synchronous unit of work in the transaction of this turn.
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

  /** Commits what is waiting at once: before the file is closed. */
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
    const units = this.waiting.splice(0, MOST_UNITS)
    try {
      this.begin.run()
    } catch (error) {
      this.postpone(units, error, last)
      return
    }
    this.busySinceMs = undefined
    let outcomes: Outcome[]
    try {
      outcomes = units.map((unit) => this.inSavepoint(unit))
      this.commit.run()
    } catch (error) {
      // A full disk or a failed write ends the whole transaction: nothing of it is acknowledged.
      if (this.db.inTransaction) this.rollback.run()
      for (const unit of units) unit.reject(error)
      outcomes = []
    }
    for (const [index, outcome] of outcomes.entries()) {
      if ('error' in outcome) units[index]!.reject(outcome.error)
      else units[index]!.resolve(outcome.value)
    }
    if (this.waiting.length > 0) this.schedule()
  }

  /** @throws when the failure ended the whole transaction, not this unit alone */
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
    if (last || !isBusy(error) || nowMs - this.busySinceMs > PATIENCE_MS) {
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
