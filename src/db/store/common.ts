/** The author of a change, stored with every revision. */
export interface Author {
  readonly accountId: string
  readonly keyId: string
}

/** A part of a list, in the list's own order. */
export interface PageRequest {
  /** Position of the last item of the page before; left out: from the start. */
  readonly after?: string
  readonly limit: number
}

export interface Page<T> {
  readonly items: readonly T[]
  /** Position of the last item, when more follow. */
  readonly next?: string
}

/** Versions that a change may be made on (If-Match), or any. */
export type Versions = readonly number[] | 'any'
