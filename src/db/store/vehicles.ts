import type { Author, Page, PageRequest, Versions } from './common.js'
import type { SaveResponse } from './stored-responses.js'

/** A profile to be stored: the text as returned later, and the fields for searching. */
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

/** A change of a vehicle, and the key that made it. */
export interface Change {
  readonly version: number
  readonly change: 'created' | 'replaced' | 'deleted'
  readonly atMs: number
  readonly keyId: string
  readonly keyLabel: string
}

/** A change with the vehicle after it; without a vehicle if the change deleted it. */
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
  /** The vehicle exists, and the request named no version to replace. */
  | { readonly outcome: 'condition-required'; readonly version: number }
  | { readonly outcome: 'stale'; readonly version: number }
  /** The request named a version, and the vehicle does not exist. */
  | { readonly outcome: 'absent' }

export type Removed =
  | { readonly outcome: 'removed' }
  | { readonly outcome: 'absent' }
  | { readonly outcome: 'stale'; readonly version: number }

/** Preconditions of a put by reference. */
export interface PutCondition {
  /** Replace only these versions (If-Match). */
  readonly versions?: Versions
  /** Do not replace these versions (If-None-Match); any: only create. */
  readonly unless?: Versions
}

/** Vehicles of an account. Those of other accounts do not exist for any method. */
export interface VehicleStore {
  create(author: Author, input: VehicleInput, save?: SaveResponse<Vehicle>): Promise<Created>
  read(accountId: string, id: string): Promise<Vehicle | undefined>
  /** In the order of creation. */
  list(accountId: string, filter: VehicleFilter, page: PageRequest): Promise<Page<Vehicle>>
  /**
   * @param edit - The new profile, from the vehicle there now. Called inside the transaction, maybe again: must only compute; a throw
   *   changes nothing
   */
  replace(
    author: Author,
    id: string,
    versions: Versions,
    edit: (current: Vehicle) => VehicleInput,
  ): Promise<Replaced>
  /** Creates or replaces the vehicle of that reference. An identical profile changes nothing. */
  putByReference(
    author: Author,
    reference: string,
    condition: PutCondition,
    input: VehicleInput,
  ): Promise<Put>
  /** Deletes the vehicle and frees its reference; its revisions remain. */
  remove(author: Author, id: string, versions: Versions): Promise<Removed>
  /** Newest first, also of a deleted vehicle; undefined if the vehicle never existed. */
  revisions(accountId: string, id: string, page: PageRequest): Promise<Page<Change> | undefined>
  revision(accountId: string, id: string, version: number): Promise<Revision | undefined>
}
