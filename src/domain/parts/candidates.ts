import type { Note } from '../measure/notes.js'
import { orderedSources, type SourceId } from '../measure/sources.js'
import { compareInterfaces, type InterfaceComparison } from './mating.js'
import type { Interface } from './part.js'

/** Two interfaces that go together, by their places in the lists of their parts. */
export interface Meeting extends InterfaceComparison {
  readonly thisInterface: number
  readonly otherInterface: number
}

export interface Candidate<T> {
  readonly part: T
  /** Best meeting of each interface of this part that has one within the tolerance. */
  readonly meetings: readonly Meeting[]
  /** Largest deviation among them, without sign [m]. */
  readonly worstMisfitM: number
}

export interface CandidateSearch<T> {
  readonly candidates: readonly Candidate<T>[]
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

const NOT_PROVEN: Note = {
  code: 'candidate-not-proven',
  level: 'caution',
  text: 'Dimensions within the tolerance make a candidate, not a proven fit: length, depth, run-out, strength and the clearance of everything else are not known. Try it by hand, then record a fit report.',
}

const FASTENERS: Note = {
  code: 'fastener-torque',
  level: 'caution',
  text: "Hub, suspension and differential fasteners go back with the maker's bolts, locking and torque; a plate between them lengthens the bolt that is needed.",
}

const worst = (meeting: InterfaceComparison) =>
  Math.max(0, ...meeting.compared.map(({ misfitM }) => Math.abs(misfitM.value)))

/** The best way in which each interface of one part meets the other part. */
function meetingsOf(here: readonly Interface[], there: readonly Interface[], toleranceM: number): Meeting[] {
  const meetings: Meeting[] = []
  for (const [thisInterface, one] of here.entries()) {
    let best: Meeting | undefined
    for (const [otherInterface, other] of there.entries()) {
      const comparison = compareInterfaces(one, other, toleranceM)
      if (comparison?.within !== true) continue
      if (best === undefined || worst(comparison) < worst(best)) {
        best = { thisInterface, otherInterface, ...comparison }
      }
    }
    if (best !== undefined) meetings.push(best)
  }
  return meetings
}

/**
 * Parts that may fit a given one, best first: those that meet it at more interfaces, then those whose worst dimension misses
 * by less, then by id.
 *
 *     candidate: at least one pair of interfaces with every |deviation| <= tolerance
 *
 * @param interfaces - Interfaces of this part
 * @param others - Parts to look at, this one not among them
 * @param toleranceM - Largest deviation of a dimension. [m], 0 to 0.01
 * @returns The candidates, with the notes that go with them: a candidate is not proven
 * @throws {DomainError} `out-of-range`, `thread-not-understood`
 * @see a choice of this service
 * @example findCandidates([{ kind: 'bore', diameterM: exact(0.02) }], [{ id: 'a', interfaces: [{ kind: 'bore', diameterM: exact(0.0203) }] }], 0.0005).candidates[0].worstMisfitM // 0.0003 ± 1e-12
 * @example findCandidates([{ kind: 'bore', diameterM: exact(0.02) }], [{ id: 'a', interfaces: [{ kind: 'bore', diameterM: exact(0.0203) }] }], 0.0002).candidates.length // 0 ± 0
 */
export function findCandidates<T extends { readonly id: string; readonly interfaces: readonly Interface[] }>(
  interfaces: readonly Interface[],
  others: readonly T[],
  toleranceM: number,
): CandidateSearch<T> {
  const candidates = others
    .map((part): Candidate<T> => {
      const meetings = meetingsOf(interfaces, part.interfaces, toleranceM)
      return { part, meetings, worstMisfitM: Math.max(0, ...meetings.map(worst)) }
    })
    .filter(({ meetings }) => meetings.length > 0)
    .sort(
      (a, b) =>
        b.meetings.length - a.meetings.length ||
        a.worstMisfitM - b.worstMisfitM ||
        (a.part.id < b.part.id ? -1 : 1),
    )
  const kinds = new Set(interfaces.map(({ kind }) => kind))
  const sources: SourceId[] = ['stored-part', 'definitions']
  if (kinds.has('thread')) sources.push('iso-261', 'asme-b1-1', 'engaged-turns')
  const notes = kinds.has('bolt-circle') ? [NOT_PROVEN, FASTENERS] : [NOT_PROVEN]
  return { candidates, sources: orderedSources(sources), notes }
}
