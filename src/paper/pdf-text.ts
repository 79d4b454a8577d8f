/** Printed where the font has no glyph for a character. */
export const MISSING = '□'

/** A word longer than this may be broken anywhere: it would not fit a column. */
const LONGEST_WORD = 24
const PIECE = 12
const BREAK = '\u{200B}'

/**
 * Right-to-left words with spaces between them, from the last letter of the first word on. Only one match is possible between two
 * letters, so the time stays linear in the length of the text.
 */
const RIGHT_TO_LEFT =
  /(?=\p{L})[\p{sc=Hebrew}\p{sc=Arabic}\p{sc=Syriac}\p{sc=Thaana}\p{sc=Nko}](?:[^\p{L} ]* [^\p{L}]*(?=\p{L})[\p{sc=Hebrew}\p{sc=Arabic}\p{sc=Syriac}\p{sc=Thaana}\p{sc=Nko}](?:\p{M}*(?=\p{L})[\p{sc=Hebrew}\p{sc=Arabic}\p{sc=Syriac}\p{sc=Thaana}\p{sc=Nko}])*)+/gu

/** Longest run of words kept on one line. */
const LONGEST_RUN = 40

const pieces = (word: string) => {
  const characters = [...word]
  const out: string[] = []
  for (let at = 0; at < characters.length; at += PIECE) out.push(characters.slice(at, at + PIECE).join(''))
  return out.join(BREAK)
}

/**
 * A unit with a slash, with a number directly before it: the typesetter would break the line after the slash. Also a percentage: it
 * would break before the sign.
 */
const UNIT = /([^\s/]{0,12}\/(?:h|km|mile)\b|[+\-\u2212]?[\d.]{1,12} %)/

/** A part of a text; one with `noWrap` is on one line. */
type Run = string | { readonly text: string; readonly noWrap: true }

const unitsWhole = (text: string): Run[] =>
  text
    .split(UNIT)
    .map((run, place) => (place % 2 === 1 ? { text: run, noWrap: true as const } : run))
    .filter((run) => run !== '')

/** Prepares texts for the typesetter, which has one font and handles the direction of a word but not of a line. */
export function pdfText(hasGlyph: (codePoint: number) => boolean) {
  let replaced = false
  const known = (text: string) =>
    // biome-ignore lint/suspicious/noControlCharactersInRegex: all of ASCII, line ends included, is left alone
    text.replaceAll(/[^\u{0}-\u{7E}]/gu, (character) => {
      if (hasGlyph(character.codePointAt(0)!)) return character
      replaced = true
      return MISSING
    })
  const inOneRun = (run: string) => (run.length > LONGEST_RUN ? run : run.replaceAll(' ', '\u{A0}'))
  return {
    /** Text of a drawing, which never wraps. */
    drawing: known,
    text: (text: string): Run[] =>
      unitsWhole(
        known(text)
          .replaceAll(RIGHT_TO_LEFT, inOneRun)
          .replaceAll(new RegExp(`[^\\s${BREAK}]{${LONGEST_WORD},}`, 'gu'), pieces),
      ),
    /** Whether a character had to be replaced so far. */
    get replaced() {
      return replaced
    },
  }
}
