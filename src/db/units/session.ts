import type { Clock } from '../store.js'

export type Value = string | number | Uint8Array | readonly string[] | readonly number[] | null

/** Values of a statement: one for each `?`, or an object with one for each `:name`. */
export type Values = readonly Value[] | readonly [Readonly<Record<string, Value>>]

/** A statement that the database executes while the unit of work waits. */
export interface Query {
  readonly name: string
  readonly text: string
  readonly values: readonly Value[]
  /** Whether the unit needs the result before it goes on. */
  readonly needsResult: boolean
  readonly failsIfRepeated: boolean
}

/** The result of a statement. */
export interface Result {
  readonly rows: readonly unknown[]
  readonly changes: number
}

/**
 * A unit of work, or a part of one. It is written as a generator and reads like a function: `yield*` gives the rows of a statement.
 * SQLite executes the statement at once, so the unit never pauses; for PostgreSQL it pauses until the server has answered.
 */
export interface Unit<T> {
  [Symbol.iterator](): Iterator<Query, T, Result>
}

export interface Prepared<Row> {
  /** The first row, if any. */
  get(...values: Values): Unit<Row | undefined>
  all(...values: Values): Unit<readonly Row[]>
  /** Executes a statement whose result does not matter. */
  run(...values: Values): Unit<void>
  /** Executes a statement and counts the rows that it changed. */
  count(...values: Values): Unit<number>
  /** Inserts a row that is given a `number`. RETURNING would cost SQLite more than the insertion itself. */
  insert(...values: Values): Unit<number>
}

export interface MemoryRules<T> {
  /** Maximum number of values; then all are forgotten. */
  readonly max: number
  /** Whether a write of this process clears it; otherwise its owner does. */
  readonly isClearedByOwnWrites: boolean
  /** Maximum age of a value if the database does not report changes of other processes at once [ms]; 0: it is not remembered then. */
  readonly maxAgeMs: number
  /** The value while a server cannot be reached and nothing is remembered; left out: the read fails. */
  readonly whileAway?: T
}

/** Values read from the store and remembered until another process changes it. */
export interface Memory<T> {
  get(key: string, read: () => Unit<T>): Unit<T>
  clear(): void
}

/** Makes a method of the store from a unit, which is given the arguments of the method. */
type MethodMaker = <Arguments extends readonly unknown[], T>(
  work: (...given: Arguments) => Unit<T>,
) => (...given: Arguments) => Promise<T>

/** What a database offers to each subject: prepare statements and make methods once, then call them. */
export interface Session {
  readonly nowMs: Clock
  /** SQL that SQLite and PostgreSQL both understand. */
  prepare<Row = never>(sql: string, options?: StatementOptions): Prepared<Row>
  /** Reads with one statement. */
  readonly read: MethodMaker
  /** Reads with several statements, all of which see the same state. */
  readonly snapshot: MethodMaker
  /**
   * Runs the unit in a transaction; the promise resolves when it is on the disk. A throw rolls it back. The unit may run again if
   * another process changed what it read, so it must only compute.
   */
  readonly write: MethodMaker
  memory<T>(rules: MemoryRules<T>): Memory<T>
}

export interface StatementOptions {
  /**
   * Whether a second run of the unit fails if the first one was committed. A unit with such a statement runs again when the connection
   * broke during its commit.
   */
  readonly failsIfRepeated?: boolean
}
