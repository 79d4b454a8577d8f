import type { InterfaceKey, InterfaceProbe } from '../../domain/parts/mating.js'
import type { Page, PageRequest, Versions } from './common.js'
import type { ImportItem, ImportOptions, ImportOutcome, NotChanged, Shared, SharedAuthor } from './shared.js'
import type { SaveResponse } from './stored-responses.js'

/** A part to be kept: the text as it is sent again, and what it is found by. */
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
  /** Words that must all stand in name, maker, number or notes; endings and accents are not looked at. */
  readonly text?: string
  /** Parts with an interface of this key whose primary dimension is in this range; they come in the order of that dimension. */
  readonly interface?: { readonly key: string; readonly minM: number; readonly maxM: number }
}

/** Parts near a given one, by their interfaces. */
export interface NearParts {
  readonly parts: readonly Part[]
  /** Whether these are all of them; else only the nearest of some interface. */
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
  /** Fit reports speak of it. */
  | { readonly outcome: 'in-use'; readonly reports: number }
  | NotChanged

/** One state of a part, and who made it. */
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
  /** In the order of recording, unless an interface is asked for. */
  list(filter: PartFilter, page: PageRequest): Promise<Page<Part>>
  /** Puts what `edit` makes of the part in its place; `edit` runs inside the unit of work and must only compute. */
  replace(
    author: SharedAuthor,
    id: string,
    versions: Versions,
    edit: (current: Part) => PartInput,
  ): Promise<PartReplaced>
  remove(author: SharedAuthor, id: string, versions: Versions): Promise<PartRemoved>
  /** Newest first; of a deleted part too. undefined when there never was one. */
  revisions(id: string, page: PageRequest): Promise<Page<PartRevision> | undefined>
  /** Stores rows of a table, in one unit of work. One outcome a row, in their order. */
  import(
    author: SharedAuthor,
    items: readonly ImportItem<PartInput>[],
    options: ImportOptions,
    save?: SaveResponse<readonly ImportOutcome[]>,
  ): Promise<readonly ImportOutcome[]>
  /**
   * Other parts that a probe finds, at most so many for each interface: the nearest of them.
   *
   * @param probes - For each interface of the part, what to look for
   */
  near(id: string, probes: ReadonlyArray<readonly InterfaceProbe[]>, most: number): Promise<NearParts>
  /**
   * Parts that may put a reading right, at most so many of each kind: those that fit reports about the vehicle speak
   * of first, then the newest.
   */
  remedies(
    kinds: readonly string[],
    vehicle: { readonly make: string; readonly model: string } | undefined,
    most: number,
  ): Promise<readonly RemedyPart[]>
}
