import type { PartTexts, PartWords } from '../units/part-texts.js'
import type { Session } from '../units/session.js'
import { wordsOf } from './words.js'

/** Positions between two fields, so that no phrase extends over both. */
const GAP = 1

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

/** A phrase: its first word, and each further one at the position after it. */
function phraseSql(phrase: readonly string[], first: number): { from: string; where: string } {
  const alias = (index: number) => `w${first + index}`
  const from = phrase.map((_, index) => `part_words AS ${alias(index)}`).join(', ')
  const where = phrase.map((_, index) => {
    const follows =
      index === 0
        ? ''
        : ` AND ${alias(index)}.part = ${alias(0)}.part AND ${alias(index)}.position = ${alias(0)}.position + ${index}`
    return `${alias(index)}.word = :${alias(index)}${follows}`
  })
  return { from, where: where.join(' AND ') }
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
    matching(text) {
      const phrases = text
        .split(/\s+/)
        .map(wordsOf)
        .filter((phrase) => phrase.length > 0)
      if (phrases.length === 0) return { table: '(SELECT number AS part FROM parts WHERE false)', values: {} }
      const values: Record<string, string> = {}
      let first = 0
      const [head, ...others] = phrases.map((phrase) => {
        for (const [index, word] of phrase.entries()) values[`w${first + index}`] = word
        const sql = { ...phraseSql(phrase, first), part: `w${first}.part` }
        first += phrase.length
        return sql
      })
      const further = others.map(
        ({ from, where, part }) =>
          ` AND EXISTS (SELECT 1 FROM ${from} WHERE ${where} AND ${part} = ${head!.part})`,
      )
      return {
        table: `(SELECT DISTINCT ${head!.part} AS part FROM ${head!.from} WHERE ${head!.where}${further.join('')})`,
        values,
      }
    },
  }
}
