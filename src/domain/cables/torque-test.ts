import type { Figure } from '../measure/figure.js'

export type PartKind = 'wheel-drive' | 'cable' | 'angle-drive' | 'counter' | 'adapter' | 'head' | 'other'

export interface DragPart {
  readonly name: string
  readonly kind: PartKind
  /** Drag of such a part when it is in order, where the caller knows it [N.m]. */
  readonly usualNm?: Figure
}

/** Torque to turn some of the parts, coupled together. */
export interface TorqueTest {
  readonly parts: readonly string[]
  readonly torqueNm: number
  /** Standard uncertainty; absent: assumed [N.m]. */
  readonly uncertaintyNm?: number
  /** In place in the car, everything tightened; absent: true when every part is in the test. */
  readonly assembled?: boolean
}

/** Name of what the assembly takes and no part shows alone, among the unknowns. */
export const ASSEMBLY = 'assembly term'

/**
 * Whether a test shows the assembly term.
 *
 *     as stated, else: every part is in the test
 *
 * @param test - Torque test
 * @param partCount - Number of parts of the whole
 * @returns true for the whole in place
 * @see common practice, no source
 * @example isAssembled({ parts: ['a', 'b'], torqueNm: 0.03 }, 2) // true
 */
export function isAssembled(test: TorqueTest, partCount: number): boolean {
  return test.assembled ?? test.parts.length === partCount
}
