import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { isBlank, LineSplitter } from '../../src/http/ndjson.js'

/** The lines that come out when bytes come in the given chunks; `undefined` for one that is too long. */
function split(chunks: readonly Uint8Array[], longest = 1000): Array<string | undefined> {
  const splitter = new LineSplitter(longest)
  const lines: Array<string | undefined> = []
  for (const chunk of chunks) {
    for (const line of splitter.push(Buffer.from(chunk))) lines.push(line?.toString('utf8'))
  }
  for (const line of splitter.end()) lines.push(line?.toString('utf8'))
  return lines
}

const bytes = (text: string) => new TextEncoder().encode(text)

/** Bytes cut at the given places. */
function cut(whole: Uint8Array, places: readonly number[]): Uint8Array[] {
  const sorted = [0, ...places.map((place) => place % (whole.length + 1)), whole.length].sort((a, b) => a - b)
  return sorted.slice(1).map((end, index) => whole.subarray(sorted[index], end))
}

describe('LineSplitter', () => {
  test('gives the same lines wherever the bytes are cut, inside a character too', () => {
    // Text without a line feed, of one to four bytes a character.
    const line = fc.string({ unit: 'binary', maxLength: 30 }).map((text) => text.replaceAll('\n', '\r'))
    fc.assert(
      fc.property(
        fc.array(line, { maxLength: 12 }),
        fc.boolean(),
        fc.array(fc.nat(), { maxLength: 30 }),
        (lines, closed, places) => {
          fc.pre(lines[0]?.startsWith('\ufeff') !== true)
          const text = closed ? lines.map((one) => `${one}\n`).join('') : lines.join('\n')
          // What a line is: RFC 8259 text between line feeds; nothing after the last one is no line.
          const expected = text.split('\n')
          if (expected.at(-1) === '') expected.pop()
          expect(split(cut(bytes(text), places))).toEqual(expected)
        },
      ),
    )
  })

  test('byte by byte', () => {
    const whole = bytes('\ufeffärger\r\n\n€\n😀 no line feed')
    const single = [...whole].map((byte) => Uint8Array.of(byte))
    expect(split(single)).toEqual(['ärger\r', '', '€', '😀 no line feed'])
  })

  test('takes a byte order mark off the first line only', () => {
    expect(split([bytes('\ufeffa\n\ufeffb\n')])).toEqual(['a', '\ufeffb'])
    expect(split([bytes('\ufeff')])).toEqual([''])
    expect(split([])).toEqual([])
    expect(split([bytes('\n')])).toEqual([''])
  })

  test('gives undefined for a line over the limit, wherever it is cut, and goes on after it', () => {
    const whole = bytes(`${'a'.repeat(10)}\n${'b'.repeat(11)}\nc\n${'d'.repeat(30)}`)
    const expected = ['a'.repeat(10), undefined, 'c', undefined]
    for (let place = 0; place <= whole.length; place++) {
      expect(split(cut(whole, [place]), 10)).toEqual(expected)
      expect(split(cut(whole, [place, place + 1, place + 2]), 10)).toEqual(expected)
    }
  })

  test('holds no more than a line: a line of 100 MB is dropped as it comes', () => {
    const splitter = new LineSplitter(1000)
    const chunk = Buffer.alloc(1_000_000, 'x')
    const before = process.memoryUsage().arrayBuffers
    for (let i = 0; i < 100; i++) expect([...splitter.push(chunk)]).toEqual([])
    expect(process.memoryUsage().arrayBuffers - before).toBeLessThan(10_000_000)
    expect([...splitter.push(Buffer.from('\nok\n'))].map(String)).toEqual(['undefined', 'ok'])
  })
})

test('isBlank(line) is true for JSON white space alone (RFC 8259, 2)', () => {
  for (const line of ['', ' ', '\t', '\r', ' \t \r']) expect(isBlank(Buffer.from(line))).toBe(true)
  for (const line of ['{}', ' {}', '\u00a0', '\f', '\0']) expect(isBlank(Buffer.from(line))).toBe(false)
})
