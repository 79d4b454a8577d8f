import { type Assumption, assumed } from '../measure/assumptions.js'
import type { SourceId, Standing } from '../measure/sources.js'

/** What one option adds to the answer during its computation. */
export interface Ledger {
  /** JSON Pointer of the option. */
  readonly pointer: string
  readonly taken: Assumption[]
  readonly standings: Map<string, Standing>
  readonly sources: SourceId[]
}

/**
 * The caller's value, or a typical one that is then added to the list of assumptions; the standing of either is recorded for
 * the budget.
 *
 *     x = given, or else fallback
 *
 * @param ledger - Record of assumptions and standings
 * @param given - Value from the caller, if any
 * @param fallback - Typical value, same unit
 * @param field - Pointer of the field below the ledger's own
 * @param value - Text of the fallback, with its unit
 * @param input - Name of the input in budgets, if it is in one
 * @returns The given value or the fallback
 * @see common practice, no source: each is listed in the answer
 * @example settingOf({ pointer: '', taken: [], standings: new Map(), sources: [] }, undefined, 0.5, '/latency', '0.5 s') // 0.5 ± 0
 */
export function settingOf(
  ledger: Ledger,
  given: number | undefined,
  fallback: number,
  field: string,
  value: string,
  input?: string,
): number {
  if (input !== undefined) ledger.standings.set(input, given === undefined ? 'common-practice' : 'measured')
  return assumed(
    given,
    fallback,
    { field: ledger.pointer + field, value, standing: 'common-practice' },
    ledger.taken,
  )
}
