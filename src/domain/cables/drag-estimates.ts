import type { Figure } from '../measure/figure.js'
import type { DragPart, Joint } from './torque-test.js'

export interface PartDrag {
  readonly part: DragPart
  /** Absent when the tests do not distinguish it from that of other parts. */
  readonly dragNm?: Figure
  readonly sharePercent?: number
}

/** What a joint takes beyond its parts. */
export interface JointDrag extends Joint {
  readonly dragNm: Figure
}

/** Torque that the assembly takes beyond that of each part alone, its joints included. */
export interface AssemblyTerm {
  readonly dragNm: Figure
  /** The part of it outside the joints that drag; absent where no joint drags. */
  readonly elsewhereNm?: Figure
  /** Torque of the whole less the sum of its parts, as read; absent where a part was not tested alone. May be below zero. */
  readonly wholeMinusPartsNm?: Figure
  readonly sharePercent?: number
  /** Significant: one-sided at the level of `FALSE_ALARM`. */
  readonly found: boolean
  /** Probability of an estimate at least this large when there is no such term: the p-value. */
  readonly pValue: number
  /** An assembly term of this size is found 19 times in 20 [N.m]. */
  readonly detectionLimitNm: number
}

/** Where the drag of a drive is, as far as its torque tests determine it. */
export interface DragEstimates {
  readonly parts: readonly PartDrag[]
  /** Joints that drag, the smallest first. */
  readonly joints: readonly JointDrag[]
  readonly assembly?: AssemblyTerm
}
