import { stemmer } from 'stemmer'

/** Combining accents that do not end a word and do not count. */
const ACCENTS =
  '[\\u0300-\\u0304\\u0306-\\u030c\\u030f\\u0311\\u031b\\u0323-\\u0328\\u032d\\u032e\\u0330\\u0331]'

/** Letters, digits and private characters make words. */
const WORD = new RegExp(`[\\p{L}\\p{N}\\p{Co}](?:[\\p{L}\\p{N}\\p{Co}]|${ACCENTS})*`, 'gu')
const ACCENT = new RegExp(ACCENTS, 'g')

/** Lengths of words that are stemmed [bytes]. */
const MIN_STEMMED = 3
const MAX_STEMMED = 64

/** Longest word in the index [characters]; of a longer one, the beginning counts. */
const MAX_LENGTH = 400

/** A character without case and, if it is a Latin letter, without accent. */
function folded(character: string): string {
  const upper = character.toUpperCase()
  // Characters of one case form, such as the Greek final sigma, become equal; ß stays.
  const lower = (upper.length === character.length ? upper : character).toLowerCase()
  const [base] = lower.normalize('NFD')
  return base! >= 'a' && base! <= 'z' ? base! : lower
}

/** Stands for bytes outside ASCII while a word is stemmed: a private character counts as a consonant and has no case. */
const PRIVATE = 0xe000

/** The stem of a word by Porter's algorithm on its bytes. */
function stem(word: string): string {
  const bytes = Buffer.from(word)
  if (bytes.length < MIN_STEMMED || bytes.length > MAX_STEMMED) return word
  const units = Array.from(bytes, (byte) => String.fromCharCode(byte < 0x80 ? byte : PRIVATE + byte))
  return Buffer.from(Array.from(stemmer(units.join('')), (unit) => unit.charCodeAt(0) & 0xff)).toString()
}

/**
 * The words of a text in their order, without case, Latin accents and English endings: those of the text index of SQLite
 * (tokenizers unicode61 and porter of FTS5), so that both stores find the same.
 */
export const wordsOf = (text: string): string[] =>
  (text.match(WORD) ?? []).map((word) =>
    stem(Array.from(word.replaceAll(ACCENT, ''), folded).join('').slice(0, MAX_LENGTH)),
  )
