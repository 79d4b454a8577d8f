/** Why a database file is not opened. */
export type OpenErrorCode =
  /** Not a file, not writable, or in a folder that cannot be written. */
  | 'cannot-open'
  /** Not SQLite, or SQLite of another program. */
  | 'foreign-file'
  /** Written by a later version of this program. */
  | 'newer-file'
  /** A migration that was applied to the file is no longer what it was. */
  | 'changed-migration'
  /** Pages, indexes or references do not hold together. */
  | 'damaged-file'
  /** A pragma that durability rests on did not take. */
  | 'not-durable'

/** The file is left as it was. The message says what to do. */
export class OpenError extends Error {
  readonly code: OpenErrorCode

  constructor(code: OpenErrorCode, message: string, options?: ErrorOptions) {
    super(message, options)
    this.name = 'OpenError'
    this.code = code
  }
}
