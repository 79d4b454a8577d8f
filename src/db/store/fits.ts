import type { Page, PageRequest, Versions } from './common.js'
import type { ImportItem, ImportOptions, ImportOutcome, NotChanged, Shared, SharedAuthor } from './shared.js'
import type { SaveResponse } from './stored-responses.js'

/** A fit report to be kept: the text as it is sent again, and what it is found by. */
export interface FitInput {
  readonly part: string
  readonly about:
    | {
        readonly make: string
        readonly model: string
        readonly yearFrom?: number
        readonly yearTo?: number
      }
    | { readonly otherPart: string }
  /** JSON text of the report, an object. */
  readonly content: string
}

/** A report, never changed: its version is 1. */
export type Fit = Shared

export interface FitFilter {
  /** Compared without regard to case. */
  readonly make?: string
  readonly model?: string
  /** Reports whose years hold this one; those without years hold every one. */
  readonly year?: number
  /** Kind of the part. */
  readonly kind?: string
  /** Reports that speak of this part, on either side. */
  readonly part?: string
}

/** Reports about one thing: vehicles of one make and model, or another part. Oldest first. */
export interface FitGroup {
  readonly otherPart?: Shared
  readonly reports: readonly Fit[]
}

/** Every report about one part that a filter admits. */
export interface PartFits {
  readonly part: Shared
  readonly groups: readonly FitGroup[]
}

export type FitCreated =
  | { readonly outcome: 'created'; readonly fit: Fit }
  | { readonly outcome: 'part-absent' | 'other-part-absent' }

export type FitRemoved = { readonly outcome: 'removed' } | NotChanged

/** Fit reports, shared by every account of the instance. */
export interface FitStore {
  create(author: SharedAuthor, input: FitInput, save?: SaveResponse<Fit>): Promise<FitCreated>
  read(id: string): Promise<Fit | undefined>
  /** Grouped by part, in the order of recording of the parts. */
  search(filter: FitFilter, page: PageRequest): Promise<Page<PartFits>>
  /** Single reports, in the order of recording. */
  list(page: PageRequest): Promise<Page<Fit>>
  /** Takes a report back; it stays in the record. */
  remove(author: SharedAuthor, id: string, versions: Versions): Promise<FitRemoved>
  /** Stores rows of a table, in one unit of work. One outcome a row, in their order. */
  import(
    author: SharedAuthor,
    items: readonly ImportItem<FitInput>[],
    options: ImportOptions,
    save?: SaveResponse<readonly ImportOutcome[]>,
  ): Promise<readonly ImportOutcome[]>
}
