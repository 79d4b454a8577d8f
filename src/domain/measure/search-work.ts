import { DomainError } from '../errors.js'

/** Most work of one search, in steps of some 20 ns: the thread that answers all callers is held for hundredths of a second. */
export const MAX_SEARCH_WORK = 1_500_000

/**
 * Work of one search, counted where it is done. Whatever a request makes of the lengths, the depth and the order of a search, it ends here.
 */
export class SearchWork {
  private left: number
  private readonly what: string
  private readonly instead: string
  private readonly pointer: string

  /**
   * @param what - Name of the field to narrow
   * @param instead - What to give instead
   * @param pointer - JSON Pointer of the field to narrow
   * @param most - Most steps
   */
  constructor(what: string, instead: string, pointer: string, most = MAX_SEARCH_WORK) {
    this.what = what
    this.instead = instead
    this.pointer = pointer
    this.left = most
  }

  /** Counts steps before they are done. @throws {DomainError} `search-too-large`, naming the field to narrow */
  spend(steps: number): void {
    this.left -= steps
    if (this.left >= 0) return
    throw new DomainError(
      'search-too-large',
      `${this.what}: the search would take too long; ${this.instead}`,
      {
        pointer: this.pointer,
      },
    )
  }
}
