import { type Figure, type Reading, statesUncertainty } from '../measure/figure.js'
import type { Note } from '../measure/notes.js'
import type { SourceId } from '../measure/sources.js'
import { standardUncertainty } from '../measure/uncertainty.js'
import type { Mutable } from '../mutable.js'
import { attributeDrag, FALSE_ALARM, type NotDistinguishable } from './drag.js'
import type { AssemblyTerm, JointDrag, PartDrag } from './drag-estimates.js'
import type { DragFinding } from './drag-findings.js'
import type { TestResidual } from './drag-fit.js'
import type { NextTorqueTest } from './next-torque-tests.js'
import type { PartKind } from './part-kinds.js'
import type { DragPart, TorqueTest } from './torque-test.js'

/** A part by its name, or with its kind and the typical drag of such a part in good order. */
export type NamedPart =
  | string
  | { readonly name: string; readonly kind?: PartKind; readonly typicalNm?: Figure }

export interface CableDragRequest {
  /** In the order of coupling from wheel to dial. */
  readonly parts: readonly NamedPart[]
  readonly tests: ReadonlyArray<{
    readonly parts: readonly string[]
    readonly torqueNm: Reading
    /** Whether everything is in place in the car. Left out: true when the test includes every part. */
    readonly assembled?: boolean
  }>
}

export interface PartDragRow {
  readonly name: string
  readonly kind: PartKind
  readonly determined: boolean
  /** Absent where the drag is not determined. */
  readonly dragNm?: Figure
  readonly sharePercent?: number
}

export interface AssemblyRow {
  readonly dragNm: Figure
  readonly found: boolean
  readonly pValuePercent: number
  readonly falseAlarmPercent: number
  readonly detectionLimitNm: number
  readonly elsewhereNm?: Figure
  readonly wholeMinusPartsNm?: Figure
  readonly sharePercent?: number
}

export interface CableDrag {
  readonly parts: readonly PartDragRow[]
  readonly assembly?: AssemblyRow
  readonly joints: readonly JointDrag[]
  readonly notDistinguishable: readonly NotDistinguishable[]
  /** One row a test. */
  readonly tests: readonly TestResidual[]
  readonly degreesOfFreedom: number
  /** Absent without spare tests. */
  readonly agreementPercent?: number
  readonly findings: readonly DragFinding[]
  readonly nextTests: readonly NextTorqueTest[]
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/**
 * Drag of each part of a mechanical drive, from torques as they were read.
 *
 *     torqueⱼ = Σ drag of the parts in test j + Σ drag of the joints in it + (assembled) assembly term
 *
 * A torque that states no uncertainty counts with the usual one of such a test; one that states none at all with the best that a test reaches.
 *
 * @param request - Parts, and torque tests [N.m]
 * @returns Drags with their uncertainty, assembly term, findings, the most informative next tests
 * @throws {DomainError} those of `attributeDrag`
 * @see Lawson and Hanson (1974), ch. 23; JCGM 100:2008, 5.1.2; drag attribution is common practice, no source
 * @example cableDrag({ parts: ['a', 'b'], tests: [{ parts: ['a'], torqueNm: exact(0.02) }, { parts: ['b'], torqueNm: exact(0.01) }, { parts: ['a', 'b'], torqueNm: exact(0.05) }] }).assembly.dragNm.value // 0.02 ± 1e-9
 * @example cableDrag({ parts: ['a'], tests: [{ parts: ['b'], torqueNm: exact(0.02) }] }) // throws part-unknown
 */
export function cableDrag(request: CableDragRequest): CableDrag {
  const found = attributeDrag(request.parts.map(partOf), request.tests.map(testOf))
  const result: Mutable<CableDrag> = {
    parts: found.parts.map(partRow),
    joints: found.joints,
    notDistinguishable: found.notDistinguishable,
    tests: found.residuals,
    degreesOfFreedom: found.degreesOfFreedom,
    findings: found.findings,
    nextTests: found.nextTests,
    sources: found.sources,
    notes: found.notes,
  }
  if (found.assembly !== undefined) result.assembly = assemblyRow(found.assembly)
  if (found.agreement !== undefined) result.agreementPercent = found.agreement * 100
  return result
}

const partOf = (named: NamedPart): DragPart =>
  typeof named === 'string' ? { name: named, kind: 'other' } : { ...named, kind: named.kind ?? 'other' }

function testOf({ parts, torqueNm, assembled }: CableDragRequest['tests'][number]): TorqueTest {
  const test: Mutable<TorqueTest> = { parts, torqueNm: torqueNm.value }
  if (statesUncertainty(torqueNm)) test.uncertaintyNm = standardUncertainty(torqueNm)
  if (assembled !== undefined) test.assembled = assembled
  return test
}

function partRow({ part: { name, kind }, dragNm, sharePercent }: PartDrag): PartDragRow {
  const row: Mutable<PartDragRow> = { name, kind, determined: dragNm !== undefined }
  if (dragNm !== undefined) row.dragNm = dragNm
  if (sharePercent !== undefined) row.sharePercent = sharePercent
  return row
}

const assemblyRow = ({ pValue, ...term }: AssemblyTerm): AssemblyRow => ({
  ...term,
  pValuePercent: pValue * 100,
  falseAlarmPercent: FALSE_ALARM * 100,
})
