import type { Figure } from '../measure/figure.js'

export type PartKind = 'wheel-drive' | 'cable' | 'angle-drive' | 'counter' | 'adapter' | 'head' | 'other'

export interface DragPart {
  readonly name: string
  readonly kind: PartKind
  /** Drag of such a part when it is in order, where the caller knows it [N.m]. */
  readonly defaultNm?: Figure
}

/** Torque to turn some of the parts, coupled together. */
export interface TorqueTest {
  readonly parts: readonly string[]
  readonly torqueNm: number
  /** Standard uncertainty; absent: assumed; 0: exact as far as a torque test can be [N.m]. */
  readonly uncertaintyNm?: number
  /** In place in the car, everything tightened; absent: true when every part is in the test. */
  readonly assembled?: boolean
}

/** Parts that take more together, coupled loosely, than their drags and the joints within them explain. */
export interface Joint {
  readonly parts: readonly string[]
}

/** Name of what the assembly takes and no part or joint shows alone, among the unknowns. */
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

/**
 * Whether what a joint takes is in a test.
 *
 *     every part of the joint is among those that turn
 *
 * @param joint - Parts that meet
 * @param parts - Parts in the test
 * @returns true where the joint turns with them
 * @see common practice, no source
 * @example holdsJoint({ parts: ['a', 'b'] }, ['a', 'b', 'c']) // true
 */
export function holdsJoint(joint: Joint, parts: readonly string[]): boolean {
  return joint.parts.every((name) => parts.includes(name))
}

/**
 * Name of a joint among the unknowns.
 *
 *     "joint of " and its parts
 *
 * @param joint - Parts that meet
 * @returns Name
 * @see names are the caller's own
 * @example jointName({ parts: ['a', 'b'] }) // "joint of a, b"
 */
export function jointName(joint: Joint): string {
  return `joint of ${joint.parts.join(', ')}`
}
