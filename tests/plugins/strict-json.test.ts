import fc from 'fast-check'
import { afterAll, describe, expect, test } from 'vitest'
import type { RequestProblem } from '../../src/border/request-problem.js'
import { parseStrictJson } from '../../src/plugins/strict-json.js'
import { testApp } from '../support/app.js'
import { expectProblem } from '../support/problem.js'

const app = await testApp()
afterAll(() => app.close())

const send = (payload: string | Buffer) =>
  app.inject({
    method: 'POST',
    url: '/v1/tires/geometry',
    headers: { 'content-type': 'application/json' },
    payload,
  })

const parse = (text: string) => parseStrictJson(Buffer.from(text))

/** The pointer at which a text is refused for a key that stands twice. */
function duplicateIn(text: string): string | undefined {
  try {
    parse(text)
  } catch (error) {
    const { code, errors } = error as RequestProblem
    expect(code).toBe('duplicate-key')
    return errors[0]!.pointer
  }
  return undefined
}

describe('a key that stands twice in its object is refused and named', () => {
  const cases: ReadonlyArray<readonly [string, string, string]> = [
    ['at the top', '{"tire":1,"tire":2}', '#/tire'],
    ['with equal values', '{"a":1,"a":1}', '#/a'],
    ['below', '{"tire":{"size":"165R15","wear":{"mm":1,"mm":2}}}', '#/tire/wear/mm'],
    ['in a list', '{"to":[{"a":1},{"a":1,"b":[0,{"c":1,"c":2}]}]}', '#/to/1/b/1/c'],
    ['in a list at the root', '[[],{"a":1,"a":2}]', '#/1/a'],
    ['spelt with escapes', String.raw`{"\u006dm":1,"mm":2}`, '#/mm'],
    ['the empty key', '{"":1,"":2}', '#/'],
    ['after a text with brackets, colons and quotes', String.raw`{"x":"{\"a\":[,:}","a":1,"a":2}`, '#/a'],
    ['objects and lists as values', '{"a":{"b":1},"a":[2]}', '#/a'],
    ['__proto__', '{"__proto__":1,"__proto__":2}', '#/__proto__'],
    ['with white space everywhere', '{ "a" : 1 ,\n\t"a"\r\n: 2 }', '#/a'],
    ['a surrogate half, which JSON can spell', String.raw`{"\ud800":1,"\ud800":2}`, '#/%EF%BF%BD'],
  ]
  for (const [name, text, pointer] of cases) {
    test(name, () => expect(duplicateIn(text)).toBe(pointer))
  }

  // RFC 6901, section 6: keys of the example document, and the fragments that point at them.
  const rfc6901: ReadonlyArray<readonly [string, string]> = [
    ['a/b', '#/a~1b'],
    ['c%d', '#/c%25d'],
    ['e^f', '#/e%5Ef'],
    ['g|h', '#/g%7Ch'],
    ['i\\j', '#/i%5Cj'],
    ['k"l', '#/k%22l'],
    [' ', '#/%20'],
    ['m~n', '#/m~0n'],
  ]
  for (const [key, fragment] of rfc6901) {
    test(`a key ${JSON.stringify(key)} is named as RFC 6901 section 6 writes it`, () => {
      const written = JSON.stringify(key)
      expect(duplicateIn(`{${written}:1,${written}:2}`)).toBe(fragment)
    })
  }

  test('the same key in different objects is no duplicate', () => {
    expect(parse('{"a":{"a":1},"b":[{"a":1},{"a":2}]}')).toEqual({ a: { a: 1 }, b: [{ a: 1 }, { a: 2 }] })
  })

  // Found 2026-11: the regular expression that looked for the key ran out of stack on the text beside it; the answer was 500 `internal`.
  test('beside a text of many megabytes', async () => {
    const long = 'x'.repeat(16_600_000)
    expect(duplicateIn(`{"s":"${long}","a":1,"a":2}`)).toBe('#/a')
    expect(duplicateIn(`{"s":"${String.raw`\n`.repeat(8_000_000)}","a":1,"a":2}`)).toBe('#/a')
    expect(duplicateIn(`{"${long}":1,"b":{"a":1,"a":2}}`)).toBe('#/b/a')
    const answer = await app.inject({
      method: 'POST',
      url: '/v1/signals/log-analysis',
      headers: { 'content-type': 'application/json' },
      payload: `{"s":"${long}","a":1,"a":2}`,
    })
    expect(expectProblem(answer, 400, 'duplicate-key').errors![0]!.pointer).toBe('#/a')
  })

  test('through the service, with the one shape', async () => {
    const problem = expectProblem(
      await send('{"tire":{"size":"165R15","wear":{"mm":1,"\\u006dm":2}}}'),
      400,
      'duplicate-key',
    )
    expect(problem.errors).toEqual([
      {
        in: 'body',
        pointer: '#/tire/wear/mm',
        code: 'duplicate-key',
        detail: 'is given twice in its object; keep one',
      },
    ])
  })
})

describe('parseStrictJson(text)', () => {
  test('reads whatever JSON.stringify writes, as JSON.parse does', () => {
    fc.assert(
      fc.property(fc.jsonValue({ maxDepth: 6 }), fc.constantFrom(0, 2), (value, indent) => {
        const text = JSON.stringify(value, null, indent)
        expect(parse(text)).toEqual(JSON.parse(text))
      }),
    )
  })

  test('finds a duplicate member anywhere in any document', () => {
    fc.assert(
      fc.property(fc.jsonValue({ maxDepth: 4 }), fc.string({ unit: 'grapheme' }), (value, key) => {
        const name = JSON.stringify(key)
        const doubled = `{${name}:1,${name}:${JSON.stringify(value)}}`
        expect(duplicateIn(`[${JSON.stringify(value)},{"in":${doubled}}]`)).toMatch(/^#\/1\/in\//)
      }),
    )
  })

  test('throws malformed-json exactly for texts that JSON.parse refuses', () => {
    const mutilated = fc
      .tuple(fc.jsonValue(), fc.nat(), fc.constantFrom('', '}', ',', '"', '\\', '0', ':', '\u0000'))
      .map(([value, at, junk]) => {
        const text = JSON.stringify(value)
        const place = at % (text.length + 1)
        return text.slice(0, place) + junk + text.slice(place + 1)
      })
    fc.assert(
      fc.property(mutilated, (text) => {
        let valid = true
        try {
          JSON.parse(text)
        } catch {
          valid = false
        }
        try {
          parse(text)
          expect(valid).toBe(true)
        } catch (error) {
          const { code } = error as RequestProblem
          expect(code).toBe(valid ? 'duplicate-key' : 'malformed-json')
        }
      }),
      { numRuns: 500 },
    )
  })
})

describe('a body that is not JSON is a 400', () => {
  const cases: ReadonlyArray<readonly [string, string]> = [
    ['cut off', '{"tire":{"size":"165R15"}'],
    ['a trailing comma', '{"tire":{"size":"165R15"},}'],
    ['single quotes', "{'tire':1}"],
    ['NaN', '{"tire":NaN}'],
    ['Infinity', '{"tire":-Infinity}'],
    ['hexadecimal', '{"tire":0x10}'],
    ['a leading zero', '{"tire":01}'],
    ['a comment', '{"tire":1}//'],
    ['two documents', '{}{}'],
    ['a bare word', 'tire'],
    ['empty', ''],
    ['white space only', ' \r\n\t '],
    ['a second byte order mark', '\ufeff\ufeff{}'],
  ]
  for (const [name, text] of cases) {
    test(name, async () => {
      expectProblem(await send(text), 400, 'malformed-json')
    })
  }

  test('invalid UTF-8', async () => {
    const text = Buffer.from('{"tire":{"size":"165R15"}}')
    text[20] = 0xff
    expect(expectProblem(await send(text), 400, 'malformed-json').detail).toContain('UTF-8')
  })

  test('an overlong form of UTF-8 (RFC 3629, section 10)', async () => {
    expectProblem(await send(Buffer.from([0x22, 0xc0, 0x80, 0x22])), 400, 'malformed-json')
  })
})

test('one byte order mark is admitted (RFC 8259, section 8.1, lets a reader ignore it)', async () => {
  const response = await send('\ufeff{"tire":{"size":"165R15"}}')
  expect(response.statusCode).toBe(200)
})

test('the answer to a text that stops being JSON says where, as far as that is known', async () => {
  const problem = expectProblem(await send('{"tire":1 "x":2}'), 400, 'malformed-json')
  expect(problem.detail).toContain('near character 10')
})

describe('nesting', () => {
  const nested = (levels: number) => `${'['.repeat(levels)}${']'.repeat(levels)}`

  test('of 64 levels is read', () => expect(parse(nested(64))).toBeInstanceOf(Array))

  test('of 65 is refused', async () => {
    expectProblem(await send(nested(65)), 400, 'nested-too-deep')
  })

  test('of a hundred thousand is refused, not overflowed', () => {
    const text = `{"tire":${'{"a":'.repeat(100_000)}`
    expect(() => parse(text)).toThrow(expect.objectContaining({ code: 'nested-too-deep' }))
  })

  test('is not counted inside text', () => {
    expect(parse(JSON.stringify({ a: '[{'.repeat(100) }))).toEqual({ a: '[{'.repeat(100) })
  })
})

// Until 2026-11 5.6 million empty objects were read and counted for 8.9 s before they were refused.
describe('objects, lists and values', () => {
  const lists = (count: number) => `[${'[],'.repeat(count - 2)}[]]`

  test('300 000 are read', () => expect(parse(lists(300_000))).toHaveLength(299_999))

  test('one more is refused before it is read', () => {
    const message = 'The body holds 300001 objects and lists; at most 300000 are read.'
    expect(() => parse(lists(300_001))).toThrow(expect.objectContaining({ code: 'body-too-large', message }))
  })

  // Until 2026-11 a log of 8 million ones took 700 MiB before it was refused.
  test('more values than any request has are refused before they are read', () => {
    const text = `[${'1,'.repeat(1_100_001)}1]`
    expect(() => parse(text)).toThrow('The body holds 1100001 commas; at most 1100000 are read.')
  })
})

describe('__proto__ and constructor are keys like others: unknown', () => {
  for (const key of ['__proto__', 'constructor', 'prototype', 'toString']) {
    test(key, async () => {
      const problem = expectProblem(
        await send(`{"tire":{"size":"165R15"},"${key}":{"polluted":1}}`),
        400,
        'invalid-request',
      )
      expect(problem.errors).toEqual([
        expect.objectContaining({ pointer: `#/${key}`, code: 'unknown-field' }),
      ])
      expect(({} as Record<string, unknown>).polluted).toBeUndefined()
    })
  }

  test('as the only key of a measure', async () => {
    const problem = expectProblem(
      await send('{"tire":{"overallDiameter":{"__proto__":{"mm":650}}}}'),
      400,
      'invalid-request',
    )
    expect(problem.errors?.[0]?.pointer).toBe('#/tire/overallDiameter')
  })
})
