import type { MatchingSql, PartTexts } from '../units/part-texts.js'
import type { Session } from '../units/session.js'

/**
 * Each word as a quoted phrase for the full-text index, so that user input is not parsed as query syntax. Text without a word
 * becomes an empty phrase, which matches nothing; an empty query would be a syntax error.
 */
const phrases = (text: string) =>
  text
    .split(/\s+/)
    .filter((word) => word !== '')
    .map((word) => `"${word.replaceAll('"', '""')}"`)
    .join(' ') || '""'

export const MATCHING: MatchingSql = {
  table: '(SELECT rowid AS part FROM part_texts WHERE part_texts MATCH :text)',
  condition: (part) =>
    `EXISTS (SELECT 1 FROM part_texts WHERE part_texts MATCH :text AND part_texts.rowid = ${part})`,
}

export function sqlitePartTexts({ prepare }: Session): PartTexts {
  const add = prepare('INSERT INTO part_texts (rowid, name, maker, number, notes) VALUES (?, ?, ?, ?, ?)')
  const remove = prepare('DELETE FROM part_texts WHERE rowid = ?')
  return {
    add: (part, { name, maker, number, notes }) => add.run(part, name, maker, number, notes),
    remove: (part) => remove.run(part),
    matching: MATCHING,
    parametersOf: (text) => ({ text: phrases(text) }),
  }
}
