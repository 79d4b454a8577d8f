import { StoreError, type StoreErrorCode } from '../store/errors.js'

/** Thrown inside the session only: the unit lost against another one and runs again. */
export class RunAgain extends Error {}

/** The connection broke during a commit, which may have succeeded. */
export class LostCommit extends Error {
  /** Whether a second run of the unit fails if this one was committed. */
  readonly failsIfRepeated: boolean

  constructor(failsIfRepeated: boolean, options: ErrorOptions) {
    super('the connection broke during a commit', options)
    this.failsIfRepeated = failsIfRepeated
  }
}

/** Whether the database cannot serve a unit now, which was not executed. */
export const isAway = (error: unknown): boolean =>
  error instanceof StoreError && (error.code === 'unavailable' || error.code === 'busy')

/** A serialization failure, a deadlock, or a value that another unit stored meanwhile (unique_violation). */
const AGAIN = new Set(['40001', '40P01', '23505'])

/** Operational failures of PostgreSQL, by the start of their SQLSTATE (Appendix A of its manual). */
const FAILURES: ReadonlyArray<readonly [RegExp, StoreErrorCode]> = [
  [/^53100/, 'disk-full'],
  [/^58030/, 'disk-failed'],
  [/^XX00[12]/, 'damaged'],
  // too_many_connections, query_canceled (by the timeout), lock_not_available.
  [/^(53300|57014|55P03)/, 'busy'],
  // Connection exceptions, insufficient resources, operator intervention, a standby that only reads, idle in a transaction for too long.
  [/^(08|53|57P|25006|25P03)/, 'unavailable'],
]

const sqlStateOf = (error: unknown): string | undefined => {
  const { code, severity } = error as { code?: unknown; severity?: unknown }
  return typeof code === 'string' && severity !== undefined ? code : undefined
}

/** Whether an error means that the connection is gone, so that the result of what it executed is unknown. */
export function isLost(error: unknown): boolean {
  const state = sqlStateOf(error)
  return state === undefined || /^(08|57P)/.test(state)
}

/** What an error of the driver means to a unit of work. */
export function failureOf(error: unknown): unknown {
  const state = sqlStateOf(error)
  // Not from the server: the connection failed.
  if (state === undefined)
    return new StoreError('unavailable', 'the database cannot be reached', { cause: error })
  if (AGAIN.has(state)) return new RunAgain(state, { cause: error })
  const code = FAILURES.find(([pattern]) => pattern.test(state))?.[1]
  return code === undefined
    ? error
    : new StoreError(code, `the store cannot be used now (SQLSTATE ${state})`, { cause: error })
}
