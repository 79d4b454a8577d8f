import type { Page, PageRequest, Versions } from './common.js'
import type { ImportRows, NotChanged, Shared, SharedAuthor } from './shared.js'
import type { SaveResponse } from './stored-responses.js'

/** A fit report to be stored: the text as returned later, and the fields for searching. */
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
  /** Reports whose range of years contains this one; reports without years match every year. */
  readonly year?: number
  /** Kind of the part. */
  readonly kind?: string
  /** Reports about this part, on either side. */
  readonly part?: string
}

/** Reports about one thing: vehicles of one make and model, or another part. Oldest first. */
export interface FitGroup {
  readonly otherPart?: Shared
  readonly reports: readonly Fit[]
}

/** The reports about one part that match a filter. */
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
  /** Withdraws a report; its history remains. */
  remove(author: SharedAuthor, id: string, versions: Versions): Promise<FitRemoved>
  readonly import: ImportRows<FitInput>
}
