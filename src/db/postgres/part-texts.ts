import type { MatchingSql, PartTexts, PartWords } from '../units/part-texts.js'
import type { Session } from '../units/session.js'
import { wordsOf } from './words.js'

/** Positions between two fields, so that no phrase extends over both. */
const GAP = 1

/** Most occurrences that are counted to find the rarest word of a text. */
const MAX_COUNTED = 1_000

const TOKENS = 'unnest(CAST(:words AS TEXT[]), CAST(:phrases AS BIGINT[]), CAST(:offsets AS BIGINT[]))'

/**
 * Whether a part contains every phrase of a text, whose words are given with their phrase and their offset in it: no phrase lacks a start
 * from which none of its words is missing. One condition for texts of any length: a join for each word would take seconds to plan.
 */
const containsAll = (part: string) => `cardinality(CAST(:words AS TEXT[])) > 0 AND NOT EXISTS (
  SELECT 1 FROM ${TOKENS} AS first (word, phrase, distance)
    WHERE first.distance = 0 AND NOT EXISTS (
      SELECT 1 FROM part_words AS start WHERE start.word = first.word AND start.part = ${part} AND NOT EXISTS (
        SELECT 1 FROM ${TOKENS} AS next (word, phrase, distance)
          WHERE next.phrase = first.phrase AND NOT EXISTS (
            SELECT 1 FROM part_words AS found
              WHERE found.word = next.word AND found.part = start.part
                AND found.position = start.position + next.distance))))`

const MATCHING: MatchingSql = {
  // Among the parts with the rarest word, in the order of its index.
  table: `(SELECT DISTINCT rare.part FROM part_words AS rare
    WHERE rare.word = (SELECT word FROM unnest(CAST(:words AS TEXT[])) AS wanted (word)
        ORDER BY (SELECT count(*) FROM (
          SELECT 1 FROM part_words AS counted WHERE counted.word = wanted.word LIMIT ${MAX_COUNTED}
        ) AS occurrences) LIMIT 1)
      AND ${containsAll('rare.part')})`,
  condition: containsAll,
}

/** Words with their positions, as two lists. */
function positioned({ name, maker, number, notes }: PartWords): { words: string[]; positions: number[] } {
  const words: string[] = []
  const positions: number[] = []
  let position = 0
  for (const field of [name, maker, number, notes]) {
    for (const word of wordsOf(field)) {
      words.push(word)
      positions.push(position++)
    }
    position += GAP
  }
  return { words, positions }
}

export function postgresPartTexts({ prepare }: Session): PartTexts {
  const add = prepare(
    'INSERT INTO part_words (part, word, position) SELECT CAST(? AS BIGINT), * FROM unnest(CAST(? AS TEXT[]), CAST(? AS BIGINT[]))',
  )
  const remove = prepare('DELETE FROM part_words WHERE part = ?')
  return {
    add(part, words) {
      const found = positioned(words)
      return add.run(part, found.words, found.positions)
    },
    remove: (part) => remove.run(part),
    matching: MATCHING,
    parametersOf(text) {
      const tokens = [...new Set(text.split(/\s+/))].flatMap((phrase, index) =>
        wordsOf(phrase).map((word, offset) => ({ word, phrase: index, offset })),
      )
      return {
        words: tokens.map(({ word }) => word),
        phrases: tokens.map(({ phrase }) => phrase),
        offsets: tokens.map(({ offset }) => offset),
      }
    },
  }
}
