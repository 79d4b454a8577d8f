import { setTimeout as wait } from 'node:timers/promises'
import type { Pool, PoolClient } from 'pg'
import { StoreError } from '../store/errors.js'
import type { Clock } from '../store.js'
import type { Prepared, Query, Result, Session, StatementOptions, Unit, Values } from '../units/session.js'
import { failureOf, isAway, LostCommit, RunAgain } from './failures.js'
import { memory } from './memory.js'
import { statementOf } from './statement.js'
import { READ_ONLY, READ_WRITE, resultOf, Transaction } from './transaction.js'

/** How long a unit waits for a connection when all are in use [ms]. */
const CONNECTION_WAIT_MS = 100

/** How long a unit that loses against others is repeated [ms]. */
const REPEAT_FOR_MS = 5_000
/** Longest pause before a repetition [ms]; a random part of it passes, so that the same units do not meet again. */
const MAX_PAUSE_MS = 50

function prepared<Row>(sql: string, { failsIfRepeated = false }: StatementOptions): Prepared<Row> {
  const statement = statementOf(sql)
  const inserting = statementOf(`${sql} RETURNING number`)
  const query = (
    { name, text, valuesOf }: typeof statement,
    values: Values,
    needsResult: boolean,
  ): Query => ({
    name,
    text,
    values: valuesOf(values),
    needsResult,
    failsIfRepeated,
  })
  return {
    *get(...values) {
      return (yield query(statement, values, true)).rows[0] as Row | undefined
    },
    *all(...values) {
      return (yield query(statement, values, true)).rows as readonly Row[]
    },
    *run(...values) {
      yield query(statement, values, false)
    },
    *count(...values) {
      return (yield query(statement, values, true)).changes
    },
    *insert(...values) {
      const { rows } = yield query(inserting, values, true)
      return (rows[0] as { number: number }).number
    },
  }
}

/** Runs a unit: executes each statement that it yields and sends it the result, or throws the failure into it. */
async function drive<T>(unit: Unit<T>, execute: (query: Query) => Promise<Result>): Promise<T> {
  const steps = unit[Symbol.iterator]()
  let step = steps.next(NOT_STARTED)
  while (step.done !== true) {
    let result: Result
    try {
      result = await execute(step.value)
    } catch (error) {
      if (steps.throw === undefined) throw error
      step = steps.throw(error)
      continue
    }
    step = steps.next(result)
  }
  return step.value
}

/** The argument of the first `next`, which no generator sees. */
const NOT_STARTED: Result = { rows: [], changes: 0 }

export function openSession(pool: Pool, nowMs: Clock): Session {
  /** Counts committed writes of this process. */
  let writes = 0

  async function connect(): Promise<PoolClient> {
    const connecting = pool.connect().catch((error: unknown) => {
      throw failureOf(error)
    })
    if (pool.idleCount > 0 || pool.totalCount < pool.options.max) return connecting
    let timer: NodeJS.Timeout | undefined
    const timeout = new Promise<undefined>((resolve) => {
      timer = setTimeout(resolve, CONNECTION_WAIT_MS, undefined)
    })
    const client = await Promise.race([connecting, timeout])
    clearTimeout(timer)
    if (client !== undefined) return client
    // Given back as soon as there is one.
    connecting.then(
      (late) => late.release(),
      () => undefined,
    )
    throw new StoreError('busy', 'all connections of the database are in use')
  }

  async function readOnce<T>(unit: Unit<T>): Promise<T> {
    let executed = 0
    return drive(unit, async (query) => {
      if (executed++ > 0) throw new Error(`a second statement needs a snapshot: ${query.text}`)
      const client = await connect()
      let failure: unknown
      try {
        return resultOf(await client.query({ ...query, values: [...query.values] }))
      } catch (error) {
        failure = failureOf(error)
        throw failure
      } finally {
        client.release(failure instanceof StoreError)
      }
    })
  }

  /** Runs a unit in a transaction that begins with its first statement. */
  async function inTransaction<T>(unit: Unit<T>, begin: typeof READ_WRITE | typeof READ_ONLY): Promise<T> {
    let transaction: Transaction | undefined
    try {
      const value = await drive(unit, async (query) => {
        transaction ??= new Transaction(await connect(), begin)
        return transaction.execute(query)
      })
      await transaction?.commit()
      return value
    } catch (error) {
      await transaction?.rollBack()
      throw error
    }
  }

  /** Runs a unit again when another one won, or when its commit was lost and a repetition shows whether it succeeded. */
  async function untilDone<T>(run: () => Promise<T>): Promise<T> {
    const endMs = performance.now() + REPEAT_FOR_MS
    let lost: LostCommit | undefined
    for (let pauseMs = 1; ; pauseMs = Math.min(2 * pauseMs, MAX_PAUSE_MS)) {
      try {
        return await run()
      } catch (error) {
        if (error instanceof LostCommit) lost = error
        // While the outcome is open, a server that is away must not be taken for one that changed nothing.
        else if (!(error instanceof RunAgain) && !(lost !== undefined && isAway(error))) throw error
        const isOver = performance.now() > endMs
        if (lost !== undefined && (isOver || !lost.failsIfRepeated)) {
          throw new StoreError('connection-lost', lost.message, { cause: lost })
        }
        if (isOver) throw new StoreError('busy', 'other units of work win each time', { cause: error })
      }
      await wait(Math.random() * pauseMs)
    }
  }

  return {
    nowMs,
    prepare: (sql, options = {}) => prepared(sql, options),
    read:
      (work) =>
      (...given) =>
        readOnce(work(...given)),
    snapshot:
      (work) =>
      (...given) =>
        inTransaction(work(...given), READ_ONLY),
    write:
      (work) =>
      async (...given) => {
        const value = await untilDone(() => inTransaction(work(...given), READ_WRITE))
        writes++
        return value
      },
    memory: (rules) => memory(rules, () => writes),
  }
}
