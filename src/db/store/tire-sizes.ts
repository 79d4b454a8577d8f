import type { Page, PageRequest, Versions } from './common.js'
import type { ImportRows, NotChanged, Shared, SharedAuthor } from './shared.js'
import type { SaveResponse } from './stored-responses.js'

/** A tire size to be stored: the text as returned later, and the values for computations. */
export interface TireSizeInput {
  /** Shortest usual form of the size; unique. */
  readonly designation: string
  readonly overallDiameterM: number
  readonly sectionWidthM?: number
  /** JSON text of the row, an object. */
  readonly content: string
}

export type TireSize = Shared

export type TireSizeCreated =
  | { readonly outcome: 'created'; readonly tireSize: TireSize }
  | { readonly outcome: 'taken'; readonly id: string }

export type TireSizeReplaced =
  | { readonly outcome: 'replaced'; readonly tireSize: TireSize }
  | { readonly outcome: 'taken'; readonly id: string }
  | NotChanged

export type TireSizeRemoved = { readonly outcome: 'removed' } | NotChanged

/** Tire sizes recorded by users, shared by every account of the instance. */
export interface TireSizeStore {
  create(author: SharedAuthor, input: TireSizeInput, save?: SaveResponse<TireSize>): Promise<TireSizeCreated>
  read(id: string): Promise<TireSize | undefined>
  /** In the order of recording. */
  list(filter: { readonly designation?: string }, page: PageRequest): Promise<Page<TireSize>>
  /** A number that changes with every change of a row, by this process or another. */
  revision(): Promise<number>
  /** The values for computations, of every row. */
  figures(): Promise<readonly TireSizeInput[]>
  replace(
    author: SharedAuthor,
    id: string,
    versions: Versions,
    input: TireSizeInput,
  ): Promise<TireSizeReplaced>
  remove(author: SharedAuthor, id: string, versions: Versions): Promise<TireSizeRemoved>
  readonly import: ImportRows<TireSizeInput>
}
