import type { Note } from '../domain/measure/notes.js'
import { orderedSources, type SourceId } from '../domain/measure/sources.js'
import { MODEL } from '../domain/model.js'
import type { Provenance } from '../schemas/answers.js'

/** The fields at the end of every calculation answer. */
export function provenance(result: { sources: Iterable<SourceId>; notes: Iterable<Note> }): Provenance {
  return { model: MODEL, sources: orderedSources(result.sources), notes: [...result.notes] }
}
