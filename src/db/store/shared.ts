import type { Author } from './common.js'

/** Who changes what is shared in the instance: an admin anything, anyone else what the own account recorded. */
export interface Sharer extends Author {
  readonly changesOthers: boolean
}

/** A shared thing: its content as it is sent again, and who recorded it. */
export interface Shared {
  readonly id: string
  readonly version: number
  /** Name of the account that recorded it. */
  readonly recordedBy: string
  readonly createdAtMs: number
  readonly changedAtMs: number
  /** JSON text, an object. */
  readonly content: string
}

export type NotChanged =
  | { readonly outcome: 'absent' }
  | { readonly outcome: 'not-owner' }
  | { readonly outcome: 'stale'; readonly version: number }

/** One row of a table to be stored. */
export interface ImportItem<Input> {
  /** Stored thing that is meant, or the id that a new one is to have; left out: a new one. */
  readonly id?: string
  /** Version that the row was exported at; needed to change a stored thing. */
  readonly version?: number
  readonly input: Input
}

export type ImportOutcome =
  | { readonly outcome: 'created' | 'replaced' | 'unchanged'; readonly id: string }
  /** There is one of that id, and the row names no version. */
  | { readonly outcome: 'exists'; readonly id: string }
  | { readonly outcome: 'stale'; readonly version: number }
  | { readonly outcome: 'not-owner' }
  /** There was one of that id, and it was deleted. */
  | { readonly outcome: 'deleted' }
  /** It names a part that is not there. */
  | { readonly outcome: 'part-absent' | 'other-part-absent' }
  /** Another stored thing already says what may stand only once. */
  | { readonly outcome: 'taken'; readonly id: string }

export interface ImportOptions {
  /** Look what would happen; store nothing. */
  readonly dryRun: boolean
  /** Store the rows that can be stored when others cannot. */
  readonly partial: boolean
}
