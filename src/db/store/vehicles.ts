import type { Author, Page, PageRequest, Versions } from './common.js'
import type { SaveResponse } from './stored-responses.js'

/** A profile to be kept: the text as it is sent again, and the fields that it is found by. */
export interface VehicleInput {
  readonly reference?: string
  readonly make?: string
  readonly model?: string
  /** JSON text of the profile, an object. */
  readonly profile: string
}

export interface Vehicle {
  readonly id: string
  readonly version: number
  readonly createdAtMs: number
  readonly changedAtMs: number
  readonly profile: string
}

/** What happened to a vehicle, and by whose key. */
export interface Change {
  readonly version: number
  readonly change: 'created' | 'replaced' | 'deleted'
  readonly atMs: number
  readonly keyId: string
  readonly keyLabel: string
}

/** A change with the vehicle as it was after it; without, when the change deleted it. */
export interface Revision extends Change {
  readonly vehicle?: Vehicle
}

export interface VehicleFilter {
  /** Compared without regard to case. */
  readonly make?: string
  readonly model?: string
  readonly reference?: string
}

export type Created =
  | { readonly outcome: 'created'; readonly vehicle: Vehicle }
  | { readonly outcome: 'reference-taken'; readonly id: string }

export type Replaced =
  | { readonly outcome: 'replaced'; readonly vehicle: Vehicle }
  | { readonly outcome: 'absent' }
  | { readonly outcome: 'stale'; readonly version: number }
  | { readonly outcome: 'reference-taken'; readonly id: string }

export type Put =
  | { readonly outcome: 'created' | 'replaced' | 'unchanged'; readonly vehicle: Vehicle }
  /** There is one, and the request named no version to replace. */
  | { readonly outcome: 'condition-required'; readonly version: number }
  | { readonly outcome: 'stale'; readonly version: number }
  /** The request named a version, and there is none to replace. */
  | { readonly outcome: 'absent' }

export type Removed =
  | { readonly outcome: 'removed' }
  | { readonly outcome: 'absent' }
  | { readonly outcome: 'stale'; readonly version: number }

/** What a put by reference may meet. */
export interface PutCondition {
  /** Replace only these versions (If-Match). */
  readonly versions?: Versions
  /** Do not replace these versions (If-None-Match); any: only create. */
  readonly unless?: Versions
}

/** Vehicles of an account. Another account's are absent in every method. */
export interface VehicleStore {
  create(author: Author, input: VehicleInput, save?: SaveResponse<Vehicle>): Promise<Created>
  read(accountId: string, id: string): Promise<Vehicle | undefined>
  /** In the order of creation. */
  list(accountId: string, filter: VehicleFilter, page: PageRequest): Promise<Page<Vehicle>>
  /**
   * @param edit - The new profile, from the vehicle there now. Called inside the transaction: must only compute; a throw
   *   changes nothing
   */
  replace(
    author: Author,
    id: string,
    versions: Versions,
    edit: (current: Vehicle) => VehicleInput,
  ): Promise<Replaced>
  /** Creates or replaces the vehicle of that reference. The same profile again changes nothing. */
  putByReference(
    author: Author,
    reference: string,
    condition: PutCondition,
    input: VehicleInput,
  ): Promise<Put>
  /** Takes the vehicle away and frees its reference; its revisions stay. */
  remove(author: Author, id: string, versions: Versions): Promise<Removed>
  /** Newest first; of a deleted vehicle too. undefined when there never was one. */
  revisions(accountId: string, id: string, page: PageRequest): Promise<Page<Change> | undefined>
  revision(accountId: string, id: string, version: number): Promise<Revision | undefined>
}
