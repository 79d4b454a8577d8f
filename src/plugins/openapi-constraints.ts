import { PLUS_MINUS_BELOW } from '../schemas/measure-shapes.js'
import { TEXT_RULE } from '../schemas/texts.js'

interface Described {
  description?: string
  properties?: Record<string, Described>
}

interface Wording {
  readonly words: (value: unknown) => string
  /** What the constraint is about, if not what has the keyword. */
  readonly of?: string
}

const TEXTS: Readonly<Record<string, string>> = {
  line: 'One line, not blank, no control characters.',
  lines: 'Not blank, no control characters but tabs and line breaks.',
}

/** The keywords that only this service knows, in words. */
const WORDINGS: Readonly<Record<string, Wording>> = {
  [PLUS_MINUS_BELOW]: { of: 'plusMinus', words: (key) => `Less than ${key}.` },
  [TEXT_RULE]: { words: (rule) => TEXTS[String(rule)]! },
  'x-rate-weight': { words: (requests) => `Counts as ${requests} requests of the quota.` },
}

/**
 * States each constraint of a keyword that JSON Schema does not have in words too, at the end of the description.
 *
 * @param place - What is described: a parameter in place of its schema
 */
export function describeConstraints(value: Described, place = value): void {
  for (const [key, inner] of Object.entries(value)) {
    const wording = WORDINGS[key]
    if (wording !== undefined) {
      const described = wording.of === undefined ? place : value.properties![wording.of]!
      described.description = `${described.description} ${wording.words(inner)}`
    }
    if (typeof inner === 'object' && inner !== null && key !== 'examples')
      describeConstraints(inner, key === 'schema' && 'in' in value ? value : inner)
  }
}
