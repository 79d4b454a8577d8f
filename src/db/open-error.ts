/** Why a database file is not opened. */
export type OpenErrorCode =
  /** Not a file, not writable, or in a folder that cannot be written. */
  | 'cannot-open'
  /** Not SQLite, or SQLite of another program. */
  | 'foreign-file'
  /** Written by a later version of this program. */
  | 'newer-file'
  /** A migration was changed after it had been applied to the file. */
  | 'changed-migration'
  /** Pages, indexes or references are inconsistent. */
  | 'damaged-file'
  /** A pragma that durability depends on was not applied. */
  | 'not-durable'

/** A database file that cannot be opened; it is not changed. The message says what to do. */
export class OpenError extends Error {
  readonly code: OpenErrorCode

  constructor(code: OpenErrorCode, message: string, options?: ErrorOptions) {
    super(message, options)
    this.name = 'OpenError'
    this.code = code
  }
}
