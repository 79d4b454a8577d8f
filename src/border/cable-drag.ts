import type { Static } from '@sinclair/typebox'
import { figureOut, figureSi, torqueOut } from '../codec/measures.js'
import { attributeDrag, FALSE_ALARM } from '../domain/cables/drag.js'
import type { AssemblyTerm } from '../domain/cables/drag-estimates.js'
import type { DragPart, TorqueTest } from '../domain/cables/torque-test.js'
import { standardUncertainty } from '../domain/measure/figure.js'
import type { Mutable } from '../domain/mutable.js'
import type { CableDragAnswer, CableDragRequestShape } from '../schemas/cable-drag.js'
import { provenance } from './provenance.js'

function partOf(wire: CableDragRequestShape['parts'][number]): DragPart {
  if (typeof wire === 'string') return { name: wire, kind: 'other' }
  const part: Mutable<DragPart> = { name: wire.name, kind: wire.kind ?? 'other' }
  if (wire.typical !== undefined)
    part.typicalNm = figureSi('torque', wire.typical, `${wire.name}: typical drag`)
  return part
}

function testOf(wire: CableDragRequestShape['tests'][number]): TorqueTest {
  const torque = figureSi('torque', wire.torque, 'torque')
  const test: Mutable<TorqueTest> = { parts: wire.parts, torqueNm: torque.value }
  if (wire.torque.plusMinus !== undefined) test.uncertaintyNm = standardUncertainty(torque)
  if (wire.assembled !== undefined) test.assembled = wire.assembled
  return test
}

function assemblyOut(term: AssemblyTerm): NonNullable<Static<typeof CableDragAnswer>['assembly']> {
  const out: NonNullable<Static<typeof CableDragAnswer>['assembly']> = {
    drag: figureOut(torqueOut, term.dragNm),
    found: term.found,
    pValuePercent: term.pValue * 100,
    falseAlarmPercent: FALSE_ALARM * 100,
    detectionLimit: torqueOut(term.detectionLimitNm),
  }
  if (term.elsewhereNm !== undefined) out.elsewhere = figureOut(torqueOut, term.elsewhereNm)
  if (term.wholeMinusPartsNm !== undefined) out.wholeMinusParts = figureOut(torqueOut, term.wholeMinusPartsNm)
  if (term.sharePercent !== undefined) out.sharePercent = term.sharePercent
  return out
}

/** The answer of `POST /v1/cables/drag`. */
export function cableDragOut(request: CableDragRequestShape): Static<typeof CableDragAnswer> {
  const result = attributeDrag(request.parts.map(partOf), request.tests.map(testOf))
  const out: Static<typeof CableDragAnswer> = {
    parts: result.parts.map(({ part, dragNm, sharePercent }) => {
      const row: Static<typeof CableDragAnswer>['parts'][number] = {
        name: part.name,
        kind: part.kind,
        determined: dragNm !== undefined,
      }
      if (dragNm !== undefined) row.drag = figureOut(torqueOut, dragNm)
      if (sharePercent !== undefined) row.sharePercent = sharePercent
      return row
    }),
    joints: result.joints.map(({ parts, dragNm }) => ({
      parts: [...parts],
      drag: figureOut(torqueOut, dragNm),
    })),
    notDistinguishable: result.notDistinguishable.map(({ names, neverTested, togetherNm }) => {
      const row: Static<typeof CableDragAnswer>['notDistinguishable'][number] = {
        names: [...names],
        neverTested,
      }
      if (togetherNm !== undefined) row.together = figureOut(torqueOut, togetherNm)
      return row
    }),
    tests: result.residuals.map(({ residualNm, standardized }) => {
      const row: Static<typeof CableDragAnswer>['tests'][number] = { residual: torqueOut(residualNm) }
      if (standardized !== undefined) row.standardized = standardized
      return row
    }),
    degreesOfFreedom: result.degreesOfFreedom,
    findings: result.findings.map((finding) => ({
      ...finding,
      parts: [...finding.parts],
      causes: finding.causes.map((cause) => ({ ...cause })),
    })),
    nextTests: result.nextTests.map((test) => ({
      ...test,
      parts: [...test.parts],
      determines: [...test.determines],
    })),
    ...provenance(result),
  }
  if (result.assembly !== undefined) out.assembly = assemblyOut(result.assembly)
  if (result.agreement !== undefined) out.agreementPercent = result.agreement * 100
  return out
}
