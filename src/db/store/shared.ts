import type { Author } from './common.js'
import type { SaveResponse } from './stored-responses.js'

/** The author of a change to shared data: an admin may change everything, anyone else what the own account recorded. */
export interface SharedAuthor extends Author {
  readonly changesOthers: boolean
}

/** A shared record: its content as returned later, and who recorded it. */
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
  /** Id of an existing record, or the id for a new one; left out: a new record with a new id. */
  readonly id?: string
  /** Version at the time of export; needed to change an existing record. */
  readonly version?: number
  readonly input: Input
}

export type ImportOutcome =
  | { readonly outcome: 'created' | 'replaced' | 'unchanged'; readonly id: string }
  /** A record of that id exists, and the row has no version. */
  | { readonly outcome: 'exists'; readonly id: string }
  | { readonly outcome: 'stale'; readonly version: number }
  | { readonly outcome: 'not-owner' }
  /** The record of that id was deleted. */
  | { readonly outcome: 'deleted' }
  /** It names a part that does not exist. */
  | { readonly outcome: 'part-absent' | 'other-part-absent' }
  /** Another record already has the value that must be unique. */
  | { readonly outcome: 'taken'; readonly id: string }

export interface ImportOptions {
  /** Determine the outcomes; store nothing. */
  readonly dryRun: boolean
  /** Store the valid rows even if others fail. */
  readonly partial: boolean
}

/** Stores the rows of a table in one unit of work. One outcome per row, in their order. */
export type ImportRows<Input> = (
  author: SharedAuthor,
  items: readonly ImportItem<Input>[],
  options: ImportOptions,
  save?: SaveResponse<readonly ImportOutcome[]>,
) => Promise<readonly ImportOutcome[]>
