import { MODEL } from '../model.js'
import type { Note } from './notes.js'
import { orderedSources, type SourceId } from './sources.js'

/** What a result is based on, and what is to be said with it. */
export interface Traced {
  readonly sources: Iterable<SourceId>
  readonly notes: Iterable<Note>
}

/** The end of every answer: version of the computations, sources in the order of the table, notes. */
export interface Provenance {
  readonly model: string
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/**
 * Says what a result is based on.
 *
 * @param traced - Result of a computation
 * @returns Version of the model, sources without repetition in the order of the table of sources, notes
 * @see JCGM 100:2008, 7.1.4 (a result is reported with all that it is based on)
 * @example provenance({ sources: ['gum', 'definitions', 'gum'], notes: [] }).sources.length // 2 ± 0
 */
export function provenance(traced: Traced): Provenance {
  return { model: MODEL, sources: orderedSources(traced.sources), notes: [...traced.notes] }
}
