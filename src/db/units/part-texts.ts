import type { Unit, Value } from './session.js'

/** What can be searched by words. */
export interface PartWords {
  readonly name: string
  readonly maker: string
  readonly number: string
  readonly notes: string
}

/** SQL that finds the parts that contain every word of a text; none if it has no words. */
export interface MatchingSql {
  /** Table expression whose column `part` holds their numbers. */
  readonly table: string
  /** Condition on a part, given by an expression for its number. */
  readonly condition: (part: string) => string
}

/**
 * The index of words of the parts that are not deleted; each database has its own. Case, accents and English endings do not matter
 * (Porter's algorithm), and a word with separators, such as QG-21-N, is found as a phrase.
 */
export interface PartTexts {
  add(part: number, words: PartWords): Unit<void>
  remove(part: number): Unit<void>
  readonly matching: MatchingSql
  /** The parameters of `matching` for a text. */
  parametersOf(text: string): Readonly<Record<string, Value>>
}
