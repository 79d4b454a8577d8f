import { type SchemaOptions, Type } from '@sinclair/typebox'

// Control characters and lone surrogates do not survive storing, spreadsheets or screens unchanged: refused, not altered.
const LINE = '^(?=.*\\S)[^\\p{Cc}\\p{Cs}\\u2028\\u2029]*$'
const LINES = '^(?=[\\s\\S]*\\S)(?:[^\\p{Cc}\\p{Cs}]|[\\t\\n\\r])*$'

/** Text of one line, not blank. */
export function lineText(maxLength: number, description: string, options: SchemaOptions = {}) {
  return Type.String({ minLength: 1, maxLength, pattern: LINE, description, ...options })
}

/** Text that may have line breaks, not blank. */
export function longText(maxLength: number, description: string, options: SchemaOptions = {}) {
  return Type.String({ minLength: 1, maxLength, pattern: LINES, description, ...options })
}
