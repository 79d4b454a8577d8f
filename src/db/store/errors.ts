export type StoreErrorCode =
  /** The answer to this Idempotency-Key was kept by another process between look-up and change. */
  | 'stored-meanwhile'
  /** There is no room on the disk: nothing was changed. */
  | 'disk-full'
  /** The disk does not read or write: nothing was changed. */
  | 'disk-failed'
  /** The disk failed in the middle of the commit: whether the change is there, a restart after a crash will tell. */
  | 'outcome-unknown'
  /** Pages of the file do not hold together: nothing was changed. */
  | 'damaged'
  /** Another process holds the file for too long: nothing was changed. */
  | 'held'
  /** The file cannot be used for another reason: nothing was changed. */
  | 'unavailable'

/** A unit of work that did not happen, through no fault of its input. */
export class StoreError extends Error {
  readonly code: StoreErrorCode

  constructor(code: StoreErrorCode, message: string, options?: ErrorOptions) {
    super(message, options)
    this.name = 'StoreError'
    this.code = code
  }
}
