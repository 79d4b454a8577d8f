export type StoreErrorCode =
  /** Another process stored a response for this Idempotency-Key between look-up and change. */
  | 'stored-meanwhile'
  /** There is no room on the disk: nothing was changed. */
  | 'disk-full'
  /** The disk does not read or write: nothing was changed. */
  | 'disk-failed'
  /** The disk failed during the commit: whether the change is stored is unknown until a restart. */
  | 'outcome-unknown'
  /** The pages of the file are inconsistent: nothing was changed. */
  | 'damaged'
  /** Another process holds the file for too long: nothing was changed. */
  | 'held'
  /** All connections are in use, or others are served first: nothing was changed. */
  | 'busy'
  /** The connection broke during the commit: whether the change is stored is unknown. */
  | 'connection-lost'
  /** The store cannot be used or reached for another reason: nothing was changed. */
  | 'unavailable'

/** A unit of work that failed for a reason other than its input. */
export class StoreError extends Error {
  readonly code: StoreErrorCode

  constructor(code: StoreErrorCode, message: string, options?: ErrorOptions) {
    super(message, options)
    this.name = 'StoreError'
    this.code = code
  }
}
