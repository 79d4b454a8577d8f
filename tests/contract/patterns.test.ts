import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import fc from 'fast-check'
import ts from 'typescript'
import { describe, expect, test } from 'vitest'
import { readOpenApi } from '../support/contract.js'

/**
 * No pattern takes much more than twice the time for twice the text (or what is tried is a text on which it goes back over
 * what it has read again and again). Each is fed texts in which a part of something that it takes is repeated, and which end
 * in something that it refuses: a pattern that has several ways of reading the part tries all of them.
 */
const SOURCES = join(import.meta.dirname, '../../src')

function files(folder: string): string[] {
  return readdirSync(folder, { withFileTypes: true }).flatMap((entry) => {
    const path = join(folder, entry.name)
    return entry.isDirectory() ? files(path) : /\.tsx?$/.test(entry.name) ? [path] : []
  })
}

/** Every pattern that is written in the sources or the document. */
function patterns(): Map<string, RegExp> {
  const found = new Map<string, RegExp>()
  const add = (source: string, flags: string) => {
    // Without repetition there is nothing to go back over.
    if (/[*+]|\{\d+,/.test(source)) found.set(`/${source}/${flags}`, new RegExp(source, flags))
  }
  for (const file of files(SOURCES)) {
    const visit = (node: ts.Node): void => {
      if (ts.isRegularExpressionLiteral(node)) {
        const end = node.text.lastIndexOf('/')
        add(node.text.slice(1, end), node.text.slice(end + 1))
      }
      ts.forEachChild(node, visit)
    }
    visit(ts.createSourceFile(file, readFileSync(file, 'utf8'), ts.ScriptTarget.ESNext, true))
  }
  const visit = (value: unknown): void => {
    if (typeof value !== 'object' || value === null) return
    for (const [key, inner] of Object.entries(value)) {
      if (key === 'pattern' && typeof inner === 'string') add(inner, 'u')
      else visit(inner)
    }
  }
  visit(readOpenApi())
  return found
}

/** Texts that a pattern takes, as far as a generator can be made from it, and others. */
function texts(pattern: RegExp): string[] {
  const others = [
    'a',
    '0',
    ' ',
    '1.0',
    'a b',
    '""',
    'a,b',
    '\\"',
    '-1e5',
    '{"a":1}',
    '195/70R14',
    '1 1/8-12 UN',
    '\t\n',
  ]
  try {
    const source = new RegExp(pattern.source, pattern.flags.replace(/[gyd]/g, ''))
    return [
      ...fc.sample(fc.stringMatching(source), { numRuns: 12, seed: 1 }).map((text) => text.slice(0, 24)),
      ...others,
    ]
  } catch {
    return others
  }
}

const ENDS = ['', '!', '\u0000', ' x']

/** Ways of repeating a part of a text many times. */
function* attacks(pattern: RegExp): Generator<(times: number) => string> {
  for (const text of texts(pattern)) {
    for (let from = 0; from < text.length; from++) {
      for (let to = from + 1; to <= Math.min(text.length, from + 4); to++) {
        for (const end of ENDS)
          yield (times) => text.slice(0, from) + text.slice(from, to).repeat(times) + text.slice(to) + end
      }
    }
  }
}

/** Time below which a pattern is fast enough for any text. [ms] */
const NEGLIGIBLE_MS = 0.5

/** Another process on the processor adds to some runs: so many that it cannot add to all. */
const RUNS = 20

/** The minimum time that a pattern takes for a text, or one below a time that is short enough. */
function cost(pattern: RegExp, text: string, enoughMs: number): number {
  let minMs = Number.POSITIVE_INFINITY
  for (let run = 0; run < RUNS && minMs >= enoughMs; run++) {
    pattern.lastIndex = 0
    const start = performance.now()
    pattern.test(text)
    minMs = Math.min(minMs, performance.now() - start)
  }
  return minMs
}

/** Patterns that take the square of the length, with the reason why they may. */
const SQUARE = new Map([['/(\\.\\d*?)0+$/', 'reads a number that the service wrote itself']])

const FEW = 250
const MANY = 16 * FEW

describe('a text 16 times as long does not take 100 times as long', () => {
  const all = [...patterns()].filter(([name]) => !SQUARE.has(name))

  test('are many', () => expect(all.length).toBeGreaterThan(20))

  test('but for those that may', () => {
    const names = [...patterns().keys()]
    expect([...SQUARE.keys()].filter((name) => !names.includes(name))).toEqual([])
  })

  for (const [name, pattern] of all) {
    test(name, () => {
      for (const attack of attacks(pattern)) {
        const many = cost(pattern, attack(MANY), NEGLIGIBLE_MS)
        if (many < NEGLIGIBLE_MS) continue
        // The square of 16 is 256.
        const ratio = many / Math.max(cost(pattern, attack(FEW), 0), 0.005)
        expect(ratio, JSON.stringify(attack(3))).toBeLessThan(100)
      }
    })
  }
})
