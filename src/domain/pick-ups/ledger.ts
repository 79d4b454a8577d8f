import { type Assumption, assumed } from '../measure/assumptions.js'
import type { SourceId, Standing } from '../measure/sources.js'

/** What one option adds to the answer while it is worked out. */
export interface Ledger {
  /** JSON Pointer of the option. */
  readonly pointer: string
  readonly taken: Assumption[]
  readonly standings: Map<string, Standing>
  readonly sources: SourceId[]
}

/**
 * The caller's figure, or a usual one that then stands on the list of assumptions; the standing of either is kept for
 * the budget.
 *
 *     x = given, or else fallback
 *
 * @param ledger - Where it is written down
 * @param given - What the caller gave, if anything
 * @param fallback - What is usual, same unit
 * @param field - Pointer of the field below the ledger's own
 * @param value - The fallback for people, with its unit
 * @param input - Name of the input in budgets, if it goes into one
 * @returns One of the two
 * @see common practice, no source: each is named in the answer
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
