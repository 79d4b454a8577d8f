import type { InterfaceKey, InterfaceProbe } from '../../domain/parts/mating.js'
import type { Page, PageRequest, Versions } from './common.js'
import type { ImportRows, NotChanged, Shared, SharedAuthor } from './shared.js'
import type { SaveResponse } from './stored-responses.js'

/** A part to be stored: the text as returned later, and the fields for searching. */
export interface PartInput {
  readonly kind: string
  readonly name: string
  readonly maker?: string
  readonly number?: string
  readonly notes?: string
  readonly interfaces: readonly InterfaceKey[]
  /** JSON text of the part, an object. */
  readonly content: string
}

export type Part = Shared

export interface PartFilter {
  readonly kind?: string
  /** Compared without regard to case. */
  readonly maker?: string
  /** Words that must all occur in name, maker, number or notes; endings and accents are ignored. */
  readonly text?: string
  /** Parts with an interface of this key whose primary dimension is in this range, in the order of that dimension. */
  readonly interface?: { readonly key: string; readonly minM: number; readonly maxM: number }
}

/** Parts near a given one, by their interfaces. */
export interface NearParts {
  readonly parts: readonly Part[]
  /** Whether these are all; otherwise only the nearest ones for some interface. */
  readonly complete: boolean
}

/** A part with the reports about it and one make and model. */
export interface RemedyPart {
  readonly part: Part
  readonly reports: readonly Shared[]
}

export type PartReplaced = { readonly outcome: 'replaced'; readonly part: Part } | NotChanged

export type PartRemoved =
  | { readonly outcome: 'removed' }
  /** Fit reports name it. */
  | { readonly outcome: 'in-use'; readonly reports: number }
  | NotChanged

/** A version of a part, and its author. */
export interface PartRevision {
  readonly version: number
  readonly change: 'created' | 'replaced' | 'deleted'
  readonly atMs: number
  /** Name of the account whose key made the change. */
  readonly changedBy: string
  readonly content?: string
}

/** Parts, shared by every account of the instance. */
export interface PartStore {
  create(author: SharedAuthor, input: PartInput, save?: SaveResponse<Part>): Promise<Part>
  read(id: string): Promise<Part | undefined>
  /** In the order of recording, unless filtered by an interface. */
  list(filter: PartFilter, page: PageRequest): Promise<Page<Part>>
  /** Replaces the part by the result of `edit`, which runs inside the unit of work, may run again, and must only compute. */
  replace(
    author: SharedAuthor,
    id: string,
    versions: Versions,
    edit: (current: Part) => PartInput,
  ): Promise<PartReplaced>
  remove(author: SharedAuthor, id: string, versions: Versions): Promise<PartRemoved>
  /** Newest first, also of a deleted part; undefined if the part never existed. */
  revisions(id: string, page: PageRequest): Promise<Page<PartRevision> | undefined>
  readonly import: ImportRows<PartInput>
  /**
   * Other parts with an interface near a probe: the nearest ones, up to a maximum for each interface.
   *
   * @param probes - Interfaces to search for, for each interface of the part
   */
  near(id: string, probes: ReadonlyArray<readonly InterfaceProbe[]>, max: number): Promise<NearParts>
  /**
   * Parts that may correct a reading, up to a maximum for each kind: first those named in fit reports about the
   * vehicle, then the newest.
   */
  remedies(
    kinds: readonly string[],
    vehicle: { readonly make: string; readonly model: string } | undefined,
    max: number,
  ): Promise<readonly RemedyPart[]>
}
