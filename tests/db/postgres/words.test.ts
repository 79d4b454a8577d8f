import SqliteDatabase from 'better-sqlite3'
import fc from 'fast-check'
import { afterAll, describe, expect, test } from 'vitest'
import { wordsOf } from '../../../src/db/postgres/words.js'

// The expected words are those of SQLite's own tokenizer, set as in migrations/0003_parts.sql.
const db = new SqliteDatabase(':memory:')
db.exec(`CREATE VIRTUAL TABLE texts USING fts5 (text, tokenize = 'porter unicode61 remove_diacritics 2');
  CREATE VIRTUAL TABLE vocabulary USING fts5vocab (texts, 'instance')`)
const insert = db.prepare('INSERT INTO texts (text) VALUES (?)')
const terms = db.prepare<[], string>('SELECT term FROM vocabulary ORDER BY "offset"').pluck()
const clear = db.prepare('DELETE FROM texts')
afterAll(() => db.close())

function wordsOfSqlite(text: string): string[] {
  clear.run()
  insert.run(text)
  return terms.all()
}

const differing = (texts: readonly string[]) =>
  texts.filter((text) => JSON.stringify(wordsOf(text)) !== JSON.stringify(wordsOfSqlite(text)))

describe('words are those of the text index of SQLite', () => {
  test('of the examples of Porter, An algorithm for suffix stripping (1980), each rule', () => {
    // From the paper, its examples of steps 1a to 5b.
    const examples = `caresses ponies ties caress cats feed agreed plastered bled motoring sing conflated troubled sized hopping tanned
      falling hissing fizzed failing filing happy sky relational conditional rational valenci hesitanci digitizer conformabli radicalli
      differentli vileli analogousli vietnamization predication operator feudalism decisiveness hopefulness callousness formaliti
      sensitiviti sensibiliti triplicate formative formalize electriciti electrical hopeful goodness revival allowance inference airliner
      gyroscopic adjustable defensible irritant replacement adjustment dependent adoption homologou communism activate angulariti
      homologous effective bowdlerize probate rate cease controll roll generalizations oscillators`
    expect(differing(examples.split(/\s+/))).toEqual([])
  })

  test('of words of the trade, numbers, accents and separators', () => {
    const texts = [
      'Driven gears, 21 teeth; molded nylon',
      'QG-21-W',
      'Zahnräder Müller',
      'ÉBRINNE e\u0301brinne Ångström',
      'x²  ½ 3.5:1 1/2"',
      'the and of',
      'Ελληνικά Кириллица ёлка',
      '日本 部品',
      'naïve façade œuvre straße ﬁt',
      '\u0301 alone',
      'a'.repeat(70),
    ]
    expect(differing(texts)).toEqual([])
  })

  test('of random words of English endings', () => {
    const syllable = fc.constantFrom(
      'a',
      'e',
      'be',
      'ly',
      'tion',
      'ed',
      'ing',
      's',
      'ss',
      'iz',
      'at',
      'bl',
      'll',
      'ness',
      'ful',
      'ic',
      'al',
      'ti',
      'on',
      'ment',
      'ent',
      'er',
      'w',
      'x',
      'logi',
      'sion',
      'ive',
      'ou',
    )
    const word = fc.array(syllable, { minLength: 1, maxLength: 6 }).map((parts) => parts.join(''))
    fc.assert(
      fc.property(fc.array(word, { minLength: 1, maxLength: 50 }), (words) => {
        expect(differing(words)).toEqual([])
      }),
    )
  })

  test('of every Latin, Greek and Cyrillic character', () => {
    const assigned = Array.from({ length: 0x530 - 0x21 }, (_, index) =>
      String.fromCodePoint(0x21 + index),
    ).filter((character) => !/\p{Cn}/u.test(character))
    const known = [
      // Dotless i is i here, and an a with two accents is a.
      ...['ı', 'Ǡ', 'ǡ'],
      // Newer than the Unicode of the tokenizer, 6.1: it does not know their case.
      ...['Ϳ', 'Ԩ', 'Ԫ', 'Ԭ', 'Ԯ'],
    ]
    expect(differing(assigned.map((character) => `a${character}b`))).toEqual(known.map((one) => `a${one}b`))
  })

  test('but for a y at the start of a word before another', () => {
    // Of no English word: SQLite takes the second y of the stem for a doubled consonant.
    expect(differing(['yying'])).toEqual(['yying'])
  })
})
