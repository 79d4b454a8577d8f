import type { PoolClient, QueryResult } from 'pg'
import type { Query, Result } from '../units/session.js'
import { failureOf, isLost, LostCommit } from './failures.js'

export const READ_WRITE = 'BEGIN ISOLATION LEVEL REPEATABLE READ'
export const READ_ONLY = 'BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY'

/** Maximum number of statements under way; a unit with more waits for them. */
const MAX_UNDER_WAY = 256

export const resultOf = ({ rows, rowCount }: QueryResult): Result => ({ rows, changes: rowCount ?? 0 })

/** What a unit gets for a statement that it does not wait for. */
const NO_RESULT: Result = { rows: [], changes: 0 }

/**
 * A transaction, which owns its connection until it ends. Statements are sent without waiting for those before, unless the unit needs
 * their result.
 */
export class Transaction {
  private readonly client: PoolClient
  private readonly begin: typeof READ_WRITE | typeof READ_ONLY
  private underWay: Promise<QueryResult>[] = []
  private isLost = false
  private hasEnded = false
  private failsIfRepeated = false

  constructor(client: PoolClient, begin: typeof READ_WRITE | typeof READ_ONLY) {
    this.client = client
    this.begin = begin
    this.send(begin)
  }

  async execute(query: Query): Promise<Result> {
    if (query.failsIfRepeated) this.failsIfRepeated = true
    const result = this.send({ ...query, values: [...query.values] })
    if (query.needsResult) {
      await this.settle()
      return resultOf(await result)
    }
    if (this.underWay.length >= MAX_UNDER_WAY) await this.settle()
    return NO_RESULT
  }

  /** @throws {LostCommit} if the outcome is unknown */
  async commit(): Promise<void> {
    const commit = this.send('COMMIT')
    try {
      await this.settle()
    } catch (error) {
      this.end(this.isLost)
      // What was read is valid, whatever becomes of the connection.
      if (this.begin === READ_ONLY) return
      throw this.isLost ? new LostCommit(this.failsIfRepeated, { cause: error }) : error
    }
    this.end(false)
    // A transaction that failed is rolled back by COMMIT without an error.
    const { command } = await commit
    if (this.begin === READ_WRITE && command !== 'COMMIT') throw new Error(`COMMIT did ${command}`)
  }

  /** Undoes the transaction, unless it has ended. */
  async rollBack(): Promise<void> {
    if (this.hasEnded) return
    this.send('ROLLBACK')
    await this.settle().catch(() => undefined)
    this.end(this.isLost)
  }

  private end(isBroken: boolean): void {
    this.hasEnded = true
    this.client.release(isBroken)
  }

  private send(query: string | { name: string; text: string; values: unknown[] }): Promise<QueryResult> {
    const result = this.client.query(query)
    // Awaited later; until then a failure is not unhandled.
    result.catch(() => undefined)
    this.underWay.push(result)
    return result
  }

  /** Waits for all statements. @throws the first failure, which is the cause of those after it */
  private async settle(): Promise<void> {
    const underWay = this.underWay
    this.underWay = []
    const results = await Promise.allSettled(underWay)
    const failed = results.find((result) => result.status === 'rejected')
    if (failed === undefined) return
    this.isLost ||= isLost(failed.reason)
    throw failureOf(failed.reason)
  }
}
