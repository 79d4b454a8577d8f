import { type SchemaOptions, Type } from '@sinclair/typebox'

const FORMS = new Map<string, string>()

/**
 * A pattern with the words by which problems say what to give.
 *
 * @param words - What fits it, for people
 */
export function form(pattern: string, words: string): string {
  FORMS.set(pattern, words)
  return pattern
}

/** What fits a pattern, in words. */
export const wordsOf = (pattern: string): string | undefined => FORMS.get(pattern)

// Control characters and lone surrogates do not survive storing, spreadsheets or screens unchanged: refused, not altered.
const LINE = form(
  '^(?=.*\\S)[^\\p{Cc}\\p{Cs}\\u2028\\u2029]*$',
  'text of one line that is not blank, without tabs and other control characters',
)
const LINES = form(
  '^(?=[\\s\\S]*\\S)(?:[^\\p{Cc}\\p{Cs}]|[\\t\\n\\r])*$',
  'text that is not blank, without control characters other than tabs and line breaks',
)

/** Text of one line, not blank. */
export function lineText(maxLength: number, description: string, options: SchemaOptions = {}) {
  return Type.String({ minLength: 1, maxLength, pattern: LINE, description, ...options })
}

/** Text that may have line breaks, not blank. */
export function longText(maxLength: number, description: string, options: SchemaOptions = {}) {
  return Type.String({ minLength: 1, maxLength, pattern: LINES, description, ...options })
}
