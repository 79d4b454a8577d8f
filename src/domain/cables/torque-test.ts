import type { Figure } from '../measure/figure.js'
import type { PartKind } from './part-kinds.js'

export interface DragPart {
  readonly name: string
  readonly kind: PartKind
  /** Typical drag of such a part in good order, where the caller knows it [N.m]. */
  readonly typicalNm?: Figure
}

/** Torque that turns some of the parts, coupled together. */
export interface TorqueTest {
  readonly parts: readonly string[]
  readonly torqueNm: number
  /** Standard uncertainty; absent: assumed; 0: as exact as a torque test can be [N.m]. */
  readonly uncertaintyNm?: number
  /** In place in the car, everything tightened; absent: true when every part is in the test. */
  readonly assembled?: boolean
}

/** Parts that take more coupled loosely than their drags and the joints among them explain. */
export interface Joint {
  readonly parts: readonly string[]
}

/** Name of the unknown for the torque that the assembly takes beyond its parts and joints. */
export const ASSEMBLY = 'assembly term'

/**
 * Whether a test includes the assembly term.
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
 * Whether a test includes a joint.
 *
 *     every part of the joint is among those that turn
 *
 * @param joint - Parts that meet
 * @param parts - Parts in the test
 * @returns true where all parts of the joint turn
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
 * @see names come from the caller
 * @example jointName({ parts: ['a', 'b'] }) // "joint of a, b"
 */
export function jointName(joint: Joint): string {
  return `joint of ${joint.parts.join(', ')}`
}
