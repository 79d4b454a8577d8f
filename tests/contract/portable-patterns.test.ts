import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { lazyCompile } from '../../src/plugins/lazy-compile.js'
import { schemaChecks } from '../../src/plugins/validation.js'
import { lineText, longText } from '../../src/schemas/texts.js'
import { isText, readOpenApi } from '../support/contract.js'
import { HAS_PYTHON, python } from '../support/python.js'

/** Every pattern of the document. */
function patternsIn(value: unknown, found = new Set<string>()): Set<string> {
  if (typeof value === 'object' && value !== null)
    for (const [key, inner] of Object.entries(value)) {
      if (key === 'pattern' && typeof inner === 'string') found.add(inner)
      else if (key !== 'examples' && key !== 'example') patternsIn(inner, found)
    }
  return found
}

const PATTERNS = [...patternsIn(readOpenApi())].sort()

/** Texts near what a pattern takes and others; none ends in a line break, before which `$` of Python and PCRE takes its end. */
const textsFor = (pattern: string) =>
  [
    ...fc.sample(fc.stringMatching(new RegExp(pattern, 'u')), { numRuns: 40, seed: 1 }),
    ...fc.sample(fc.string({ unit: 'binary', maxLength: 8 }), { numRuns: 40, seed: 2 }),
    ...['', ' ', 'a', ' a ', 'a\tb', 'a\nb', '\u0000', 'a\u0085', '\u00a0', 'é', '😀', '😀\u0007', '٣'],
    ...['"1"', '"01"', '/v1/', 'Bearer x', '2026-05-17T10:00:00Z', '٢026-05-17T10:00:00Z'],
  ].filter((text) => !text.endsWith('\n'))

// Until 2026-11 97 of them held \p{Cc}, which Python and a RegExp without the flag u do not know, and looked ahead, which RE2 does not.
describe('the patterns of the document', () => {
  test('are written in what JavaScript, Python, PCRE and RE2 have in common', () => {
    expect(PATTERNS.length).toBeGreaterThan(10)
    // \p{}, \u, \d, \w, \s and look-around mean different things in them, or nothing.
    expect(PATTERNS.filter((pattern) => /\\[pPuUdDwWsSbB]|\(\?/.test(pattern))).toEqual([])
    expect(PATTERNS.filter((pattern) => /[^ -~]/.test(pattern))).toEqual([])
  })

  test('mean the same to JavaScript with and without the flag u', () => {
    const different = PATTERNS.flatMap((pattern) =>
      textsFor(pattern)
        .filter((text) => new RegExp(pattern, 'u').test(text) !== new RegExp(pattern).test(text))
        .map((text) => [pattern, text]),
    )
    expect(different).toEqual([])
  })

  test.skipIf(!HAS_PYTHON)('mean the same to Python', () => {
    const asked = PATTERNS.map((pattern) => ({ pattern, texts: textsFor(pattern) }))
    const got = python(
      `import json, re, sys
asked = json.load(sys.stdin)
json.dump([[re.search(one["pattern"], text) is not None for text in one["texts"]] for one in asked], sys.stdout)`,
      asked,
    )
    expect(got).toEqual(
      asked.map(({ pattern, texts }) => texts.map((text) => new RegExp(pattern, 'u').test(text))),
    )
  })
})

const CODE_POINTS = 0x110000

// The rules as they stood in the patterns until 2026-11: \p{Cc}, \p{Cs} and a look ahead for what is not blank.
describe('a text is taken as before its pattern was made portable', () => {
  test.each([
    ['line', lineText(10, 'A text.')],
    ['lines', longText(10, 'A text.')],
  ])('x-text: %s, for every code point, alone and beside a letter', (rule, schema) => {
    const check = schemaChecks(lazyCompile)(schema, 'body')
    const different: string[] = []
    for (let code = 0; code < CODE_POINTS; code++) {
      const one = String.fromCodePoint(code)
      for (const text of [one, `a${one}`, `${one}a`])
        if ((check(text) === true) !== isText(rule, text)) different.push(`${code.toString(16)} in ${text}`)
    }
    expect(different).toEqual([])
  })

  test.each([
    ['line', 'text of one line that is not blank, without tabs and other control characters', '\u2028'],
    ['line', 'text of one line that is not blank, without tabs and other control characters', '\ud800'],
    ['lines', 'text that is not blank, without control characters other than tabs and line breaks', '\u3000'],
  ])('x-text: %s says what to give instead', (rule, words, text) => {
    const schema = rule === 'line' ? lineText(10, 'A text.') : longText(10, 'A text.')
    const refused = schemaChecks(lazyCompile)(schema, 'body')(text)
    expect(refused).toMatchObject({ error: { errors: [{ pointer: '#', code: 'wrong-form' }] } })
    expect(JSON.stringify(refused)).toContain(`expected ${words}, got`)
  })
})
