export type StoreErrorCode =
  /** The answer to this Idempotency-Key was kept by another process between look-up and change. */
  | 'kept-meanwhile'
  /** The disk is full, failed, or another process holds the file: nothing was changed. */
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
