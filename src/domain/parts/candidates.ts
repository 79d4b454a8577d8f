import { cautionNote, type Note } from '../measure/notes.js'
import type { Traced } from '../measure/provenance.js'
import type { SourceId } from '../measure/sources.js'
import { compareInterfaces, type InterfaceComparison } from './mating.js'
import { type Interface, type Part, type PartSummary, summaryOf } from './part.js'

/** Two interfaces that fit, by their indexes in the lists of their parts. */
export interface InterfacePair extends InterfaceComparison {
  readonly thisInterface: number
  readonly otherInterface: number
}

export interface Candidate {
  readonly part: PartSummary
  /** Dimensions alone prove no fit. */
  readonly standing: 'candidate-not-proven'
  /** Best match of each interface of this part that has one within the tolerance. */
  readonly interfacePairs: readonly InterfacePair[]
  /** Maximum absolute deviation among them [m]. */
  readonly worstDeviationM: number
}

/** Parts with an interface near one of a part. */
export interface NearParts {
  readonly parts: readonly Part[]
  /** Whether these are all; otherwise only the nearest ones for some interface. */
  readonly complete: boolean
}

export interface CandidateSearch extends Traced {
  /** Maximum deviation that was allowed [m]. */
  readonly toleranceM: number
  readonly candidates: readonly Candidate[]
  /** Whether these are all of the candidates. */
  readonly complete: boolean
}

const NOT_PROVEN: Note = cautionNote(
  'candidate-not-proven',
  'Dimensions within the tolerance make a candidate, not a proven fit: length, depth, run-out, strength and clearance to other parts are unknown. Try the fit by hand, then record a fit report.',
)

const FASTENERS: Note = cautionNote(
  'fastener-torque',
  'Tighten hub, suspension and differential fasteners with the specified bolts, locking and torque; a plate in between requires a longer bolt.',
)

const worst = (pair: InterfaceComparison) =>
  Math.max(0, ...pair.compared.map(({ deviationM }) => Math.abs(deviationM.value)))

/** The best match of each interface of one part with the other part. */
function interfacePairsOf(
  here: readonly Interface[],
  there: readonly Interface[],
  toleranceM: number,
): InterfacePair[] {
  const interfacePairs: InterfacePair[] = []
  for (const [thisInterface, one] of here.entries()) {
    let best: InterfacePair | undefined
    for (const [otherInterface, other] of there.entries()) {
      const comparison = compareInterfaces(one, other, toleranceM)
      if (comparison?.within !== true) continue
      if (best === undefined || worst(comparison) < worst(best)) {
        best = { thisInterface, otherInterface, ...comparison }
      }
    }
    if (best !== undefined) interfacePairs.push(best)
  }
  return interfacePairs
}

/** Most pairs first, then the closest; the id makes the order definite. */
const ranked = (a: Candidate, b: Candidate): number =>
  b.interfacePairs.length - a.interfacePairs.length ||
  a.worstDeviationM - b.worstDeviationM ||
  (a.part.id < b.part.id ? -1 : 1)

/**
 * Parts that may fit a given one, best first: by number of matching interfaces, then by smallest worst deviation, then by id.
 *
 *     candidate: at least one pair of interfaces with every |deviation| <= tolerance
 *
 * @param interfaces - Interfaces of this part
 * @param near - Other parts, without this one
 * @param toleranceM - Maximum deviation of a dimension. [m], 0 to 0.01
 * @param limit - Maximum number of candidates
 * @returns The candidates, with notes: a candidate is not proven
 * @throws {DomainError} `out-of-range`, `thread-not-understood`
 * @see a choice of this service
 * @example findCandidates([{ kind: 'bore', diameterM: exact(0.02) }], { parts: [{ id: 'a', kind: 'hub', name: 'Hub', interfaces: [{ kind: 'bore', diameterM: exact(0.0203) }] }], complete: true }, 0.0005, 50).candidates[0].worstDeviationM // 0.0003 ± 1e-12
 * @example findCandidates([{ kind: 'bore', diameterM: exact(0.02) }], { parts: [{ id: 'a', kind: 'hub', name: 'Hub', interfaces: [{ kind: 'bore', diameterM: exact(0.0203) }] }], complete: true }, 0.0002, 50).candidates.length // 0 ± 0
 */
export function findCandidates(
  interfaces: readonly Interface[],
  near: NearParts,
  toleranceM: number,
  limit: number,
): CandidateSearch {
  const candidates = near.parts
    .map((part): Candidate => {
      const interfacePairs = interfacePairsOf(interfaces, part.interfaces, toleranceM)
      return {
        part: summaryOf(part),
        standing: 'candidate-not-proven',
        interfacePairs,
        worstDeviationM: Math.max(0, ...interfacePairs.map(worst)),
      }
    })
    .filter(({ interfacePairs }) => interfacePairs.length > 0)
    .sort(ranked)
  const kinds = new Set(interfaces.map(({ kind }) => kind))
  const sources: SourceId[] = ['stored-part', 'definitions']
  if (kinds.has('thread')) sources.push('iso-261', 'asme-b1-1', 'engaged-turns')
  return {
    toleranceM,
    candidates: candidates.slice(0, limit),
    complete: near.complete && candidates.length <= limit,
    sources,
    notes: kinds.has('bolt-circle') ? [NOT_PROVEN, FASTENERS] : [NOT_PROVEN],
  }
}
