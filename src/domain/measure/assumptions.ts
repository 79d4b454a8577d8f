import type { Standing } from './sources.js'

/** A value that the request leaves out and the service assumes, with its standing. */
export interface Assumption {
  /** JSON Pointer of the request field that replaces it. */
  readonly field: string
  /** The value assumed, with unit and uncertainty, as text. */
  readonly value: string
  readonly standing: Standing
}

/**
 * The value given, or else the default, which is then added to the list of assumptions.
 *
 *     x = given, or else fallback
 *
 * @param given - Value in the request, if any
 * @param fallback - Default value
 * @param assumption - Description of the default for the answer
 * @param taken - List of assumptions of the answer; gets one more when the default is used
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
