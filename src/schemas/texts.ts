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

/**
 * Word of the contract: which rule a text follows beside its pattern. A pattern that every language compiles (JavaScript with and
 * without `u`, Python, PCRE, RE2) can name neither a lone surrogate nor, by code point, anything past U+00FF.
 */
export const TEXT_RULE = 'x-text'

interface TextRule {
  /** ASCII and Latin-1. */
  readonly pattern: string
  /** What the pattern leaves. */
  readonly takes: (text: string) => boolean
}

// Control characters and lone surrogates do not survive storing, spreadsheets or screens unchanged: refused, not altered.
const TEXT_RULES = {
  line: {
    pattern: form(
      '^[ \\xa0]*[^ \\x00-\\x1f\\x7f-\\xa0][^\\x00-\\x1f\\x7f-\\x9f]*$',
      'text of one line that is not blank, without tabs and other control characters',
    ),
    takes: (text) => /\S/.test(text) && !/[\p{Cs}\u2028\u2029]/u.test(text),
  },
  lines: {
    pattern: form(
      '^[\\t\\n\\r \\xa0]*[^ \\x00-\\x1f\\x7f-\\xa0][^\\x00-\\x08\\x0b\\x0c\\x0e-\\x1f\\x7f-\\x9f]*$',
      'text that is not blank, without control characters other than tabs and line breaks',
    ),
    takes: (text) => /\S/.test(text) && !/\p{Cs}/u.test(text),
  },
} as const satisfies Record<string, TextRule>

/** Whether a text that fits the pattern of its rule follows it. */
export const followsRule = (rule: string, text: string): boolean =>
  TEXT_RULES[rule as keyof typeof TEXT_RULES].takes(text)

const textOf = (
  rule: keyof typeof TEXT_RULES,
  maxLength: number,
  description: string,
  options: SchemaOptions,
) =>
  Type.String({
    minLength: 1,
    maxLength,
    pattern: TEXT_RULES[rule].pattern,
    [TEXT_RULE]: rule,
    description,
    ...options,
  })

/** Text of one line, not blank. */
export const lineText = (maxLength: number, description: string, options: SchemaOptions = {}) =>
  textOf('line', maxLength, description, options)

/** Text that may have line breaks, not blank. */
export const longText = (maxLength: number, description: string, options: SchemaOptions = {}) =>
  textOf('lines', maxLength, description, options)
