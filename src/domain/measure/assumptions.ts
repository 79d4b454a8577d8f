import type { Standing } from './sources.js'

/** A figure that the caller left open and the service filled in: what, with what, and how good that is. */
export interface Assumption {
  /** JSON Pointer of the request field that replaces it. */
  readonly field: string
  /** What was taken, with its unit and uncertainty, for people. */
  readonly value: string
  readonly standing: Standing
}

/**
 * The caller's figure, or else the service's own, which then goes on the list of assumptions.
 *
 *     x = given, or else fallback
 *
 * @param given - What the caller gave, if anything
 * @param fallback - What is taken otherwise
 * @param assumption - How that is to be shown
 * @param taken - List of assumptions of the answer; grows by one when the fallback is taken
 * @returns One of the two
 * @see a choice of this service; each assumption carries its own standing
 * @example assumed(undefined, 7, { field: '/x', value: '7', standing: 'common-practice' }, []) // 7 ± 0
 * @example assumed(3, 7, { field: '/x', value: '7', standing: 'common-practice' }, []) // 3 ± 0
 */
export function assumed<T>(
  given: T | undefined,
  fallback: T,
  assumption: Assumption,
  taken: Assumption[],
): T {
  if (given !== undefined) return given
  taken.push(assumption)
  return fallback
}
