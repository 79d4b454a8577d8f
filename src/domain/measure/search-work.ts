import { DomainError } from '../errors.js'

/** Maximum work of one search, in steps of about 20 ns: limits how long it blocks the event loop, to hundredths of a second. */
export const MAX_SEARCH_WORK = 1_500_000

/**
 * Work counter of one search: bounds the search whatever lengths, depth and order a request causes.
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
   * @param maxSteps - Maximum number of steps
   */
  constructor(what: string, instead: string, pointer: string, maxSteps = MAX_SEARCH_WORK) {
    this.what = what
    this.instead = instead
    this.pointer = pointer
    this.left = maxSteps
  }

  /** Counts steps before they run. @throws {DomainError} `search-too-large`, naming the field to narrow */
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
