import type { Note } from '../measure/notes.js'
import { orderedSources, type SourceId } from '../measure/sources.js'
import { compareInterfaces, type InterfaceComparison } from './mating.js'
import type { Interface } from './part.js'

/** Two interfaces that fit, by their indexes in the lists of their parts. */
export interface InterfacePair extends InterfaceComparison {
  readonly thisInterface: number
  readonly otherInterface: number
}

export interface Candidate<T> {
  readonly part: T
  /** Best match of each interface of this part that has one within the tolerance. */
  readonly interfacePairs: readonly InterfacePair[]
  /** Maximum absolute deviation among them [m]. */
  readonly worstDeviationM: number
}

export interface CandidateSearch<T> {
  readonly candidates: readonly Candidate<T>[]
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

const NOT_PROVEN: Note = {
  code: 'candidate-not-proven',
  level: 'caution',
  text: 'Dimensions within the tolerance make a candidate, not a proven fit: length, depth, run-out, strength and clearance to other parts are unknown. Try the fit by hand, then record a fit report.',
}

const FASTENERS: Note = {
  code: 'fastener-torque',
  level: 'caution',
  text: 'Tighten hub, suspension and differential fasteners with the specified bolts, locking and torque; a plate in between requires a longer bolt.',
}

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

/**
 * Parts that may fit a given one, best first: by number of matching interfaces, then by smallest worst deviation, then by id.
 *
 *     candidate: at least one pair of interfaces with every |deviation| <= tolerance
 *
 * @param interfaces - Interfaces of this part
 * @param others - Other parts, without this one
 * @param toleranceM - Maximum deviation of a dimension. [m], 0 to 0.01
 * @returns The candidates, with notes: a candidate is not proven
 * @throws {DomainError} `out-of-range`, `thread-not-understood`
 * @see a choice of this service
 * @example findCandidates([{ kind: 'bore', diameterM: exact(0.02) }], [{ id: 'a', interfaces: [{ kind: 'bore', diameterM: exact(0.0203) }] }], 0.0005).candidates[0].worstDeviationM // 0.0003 ± 1e-12
 * @example findCandidates([{ kind: 'bore', diameterM: exact(0.02) }], [{ id: 'a', interfaces: [{ kind: 'bore', diameterM: exact(0.0203) }] }], 0.0002).candidates.length // 0 ± 0
 */
export function findCandidates<T extends { readonly id: string; readonly interfaces: readonly Interface[] }>(
  interfaces: readonly Interface[],
  others: readonly T[],
  toleranceM: number,
): CandidateSearch<T> {
  const candidates = others
    .map((part): Candidate<T> => {
      const interfacePairs = interfacePairsOf(interfaces, part.interfaces, toleranceM)
      return { part, interfacePairs, worstDeviationM: Math.max(0, ...interfacePairs.map(worst)) }
    })
    .filter(({ interfacePairs }) => interfacePairs.length > 0)
    .sort(
      (a, b) =>
        b.interfacePairs.length - a.interfacePairs.length ||
        a.worstDeviationM - b.worstDeviationM ||
        (a.part.id < b.part.id ? -1 : 1),
    )
  const kinds = new Set(interfaces.map(({ kind }) => kind))
  const sources: SourceId[] = ['stored-part', 'definitions']
  if (kinds.has('thread')) sources.push('iso-261', 'asme-b1-1', 'engaged-turns')
  const notes = kinds.has('bolt-circle') ? [NOT_PROVEN, FASTENERS] : [NOT_PROVEN]
  return { candidates, sources: orderedSources(sources), notes }
}
