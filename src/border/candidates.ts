import type { Static } from '@sinclair/typebox'
import { figureOut, figureSi, lengthOut } from '../codec/measures.js'
import type { NearParts, Shared } from '../db/store.js'
import { budget, type Figure } from '../domain/measure/figure.js'
import { chordFromEdges, circleDiameterFromChord } from '../domain/parts/bolt-circle.js'
import { findCandidates, type InterfacePair } from '../domain/parts/candidates.js'
import { type InterfaceProbe, interfaceProbes } from '../domain/parts/mating.js'
import type {
  BoltCircleAnswer,
  BoltCircleShape,
  CandidateAnswer,
  InterfacePair as InterfacePairShape,
} from '../schemas/parts.js'
import { interfacesOf, partOf, summaryOf } from './parts.js'
import { provenance } from './provenance.js'

function interfacePairOut(pair: InterfacePair): Static<typeof InterfacePairShape> {
  const out: Static<typeof InterfacePairShape> = {
    thisInterface: pair.thisInterface,
    otherInterface: pair.otherInterface,
    relation: pair.relation,
    compared: pair.compared.map(({ dimension, thisM, otherM, deviationM }) => ({
      dimension,
      this: figureOut(lengthOut, thisM),
      other: figureOut(lengthOut, otherM),
      deviation: figureOut(lengthOut, deviationM),
    })),
    notCompared: [...pair.notCompared],
  }
  if (pair.sharedBolts !== undefined) out.sharedBolts = pair.sharedBolts
  if (pair.largestBoltM !== undefined) out.largestBolt = lengthOut(pair.largestBoltM)
  return out
}

/** Index probes for each interface of a part. */
export const probesFor = (part: Shared, toleranceM: number): InterfaceProbe[][] =>
  interfacesOf(partOf(part)).map((one) => interfaceProbes(one, toleranceM))

/** The answer of `GET /v1/parts/{id}/candidates`. */
export function candidatesOut(
  part: Shared,
  near: NearParts,
  toleranceM: number,
  limit: number,
): Static<typeof CandidateAnswer> {
  const others = near.parts.map((stored) => ({
    id: stored.id,
    stored,
    interfaces: interfacesOf(partOf(stored)),
  }))
  const search = findCandidates(interfacesOf(partOf(part)), others, toleranceM)
  return {
    tolerance: lengthOut(toleranceM),
    candidates: search.candidates
      .slice(0, limit)
      .map(({ part: { stored }, interfacePairs, worstDeviationM }) => ({
        part: summaryOf(stored),
        standing: 'candidate-not-proven' as const,
        interfacePairs: interfacePairs.map(interfacePairOut),
        worstDeviation: lengthOut(worstDeviationM),
      })),
    complete: near.complete && search.candidates.length <= limit,
    ...provenance(search),
  }
}

/** The answer of `POST /v1/parts/bolt-circle`. */
export function boltCircleOut(wire: BoltCircleShape): Static<typeof BoltCircleAnswer> {
  const { bolts, steps = 1 } = wire
  let chordM: Figure
  let boltHoleM: Figure | undefined
  if ('chord' in wire) chordM = figureSi('length', wire.chord, 'chord')
  else {
    const near = figureSi('length', wire.nearEdges, 'near edges')
    const far = figureSi('length', wire.farEdges, 'far edges')
    ;({ chordM, boltHoleM } = chordFromEdges(near, far))
  }
  const circleDiameterM = circleDiameterFromChord(chordM, bolts, steps)
  const out: Static<typeof BoltCircleAnswer> = {
    circleDiameter: figureOut(lengthOut, circleDiameterM),
    chord: figureOut(lengthOut, chordM),
    budget: budget(circleDiameterM),
    ...provenance({ sources: ['definitions', 'caller-reading'], notes: [] }),
  }
  if (boltHoleM !== undefined) out.boltHole = figureOut(lengthOut, boltHoleM)
  return out
}
