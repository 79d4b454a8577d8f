import type { Unit, Value } from './session.js'

/** What can be searched by words. */
export interface PartWords {
  readonly name: string
  readonly maker: string
  readonly number: string
  readonly notes: string
}

/** Parts found for a text. */
export interface Matching {
  /** Table expression whose column `part` holds their numbers. */
  readonly table: string
  /** Its parameters. */
  readonly values: Readonly<Record<string, Value>>
}

/**
 * The index of words of the parts that are not deleted; each database has its own. Case, accents and English endings do not matter
 * (Porter's algorithm), and a word with separators, such as QG-21-N, is found as a phrase.
 */
export interface PartTexts {
  add(part: number, words: PartWords): Unit<void>
  remove(part: number): Unit<void>
  /** The parts that contain every word of a text; none if it has no words. */
  matching(text: string): Matching
}
