import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Answer } from '../support/app.js'
import { operationOf } from '../support/contract.js'
import { expectDocumented, likeOf } from '../support/documented.js'
import { expectProblem } from '../support/problem.js'
import { type Stored, send, storeSome, validRequest } from '../support/requests.js'
import { World } from '../support/world.js'

/** Tables and tracks that are small to send and large to read: each is refused with a problem that says why, or read as it is. */
let world: World
let stored: Stored
beforeAll(async () => {
  world = await World.make()
  stored = await storeSome(world)
})
afterAll(() => world.app.close())

const MEBIBYTE = 1024 * 1024

/** Longest answer that says what is wrong [characters]. */
const LONGEST_PROBLEM = 25_000

/** Sends a text of another media type than JSON, and checks that a valid one is answered after it. */
async function answerTo(operationId: string, mediaType: string, body: string, query = {}): Promise<Answer> {
  const operation = operationOf(operationId)
  const headers = { 'content-type': mediaType }
  const answer = await send(world.owner, operation, { path: {}, query, headers, body })
  expect(answer.text.length).toBeLessThan(LONGEST_PROBLEM)
  expectDocumented(operationId, answer)
  expect((await world.owner('GET', '/v1/tires?size=165R13')).status).toBe(200)
  return answer
}

describe('a table', () => {
  const tables: ReadonlyArray<
    readonly [string, (columns: string, row: string) => string, readonly string[]]
  > = [
    ['of a million columns', () => 'a,'.repeat(1_000_000), ['malformed-csv']],
    ['of a row of a million cells', (columns) => `${columns}\n${'1,'.repeat(1_000_000)}`, ['malformed-csv']],
    [
      'of rows that have 40 000 cells too many',
      (columns, row) => `${columns}\n${`${row}${',1'.repeat(40_000)}\n`.repeat(20)}`,
      ['table-not-stored'],
    ],
    [
      'with a quote that is not closed',
      (columns) => `${columns}\n"${'a'.repeat(2_000_000)}`,
      ['malformed-csv'],
    ],
    [
      'with a quote in the first line that is not closed',
      () => `"${'a,\n'.repeat(600_000)}`,
      ['malformed-csv'],
    ],
    [
      'with a cell of two million characters',
      (columns) => `${columns}\n${'a'.repeat(2_000_000)}`,
      ['malformed-csv'],
    ],
    [
      'with cells of 50 000 quotes',
      (columns) => `${columns}\n${`"${'""'.repeat(40_000)}"\n`.repeat(20)}`,
      ['table-not-stored'],
    ],
    ['of a million empty lines', (columns) => `${columns}\n${'\n'.repeat(1_000_000)}`, ['malformed-csv']],
    [
      'of separators alone',
      (columns) => `${columns}\n${`${','.repeat(50)}\n`.repeat(30_000)}`,
      ['malformed-csv'],
    ],
    ['of NULs', () => '\0'.repeat(1_000_000), ['malformed-csv']],
    ['of byte order marks', (columns) => `${'\ufeff'.repeat(300_000)}${columns}`, ['malformed-csv']],
    [
      'of formulas',
      (columns, row) => `${columns}\n${`${row.replaceAll(/[^,]+/g, "=cmd|'/c x'!A1")}\n`.repeat(1000)}`,
      ['table-not-stored'],
    ],
    [
      'whose columns are those of every object',
      () => '__proto__,constructor,toString\n1,2,3',
      ['malformed-csv'],
    ],
  ]
  for (const operationId of ['importParts', 'importFits', 'importTireSizes']) {
    for (const [what, make, codes] of tables) {
      test(`${what}: ${operationId}`, async () => {
        const example = validRequest(operationOf(operationId), stored).body as string
        const [columns = '', row = ''] = example.trim().split('\n')
        const answer = await answerTo(operationId, 'text/csv', make(columns, row))
        expect(codes, answer.text.slice(0, 300)).toContain(answer.body.code)
        expectProblem(likeOf(answer), answer.status, answer.body.code)
      })
    }
  }

  test('of more bytes than are taken is a 413', async () => {
    const answer = await answerTo('importParts', 'text/csv', 'a'.repeat(6 * MEBIBYTE))
    expectProblem(likeOf(answer), 413, 'body-too-large')
  })
})

/** Settings of a log, which stand in the address. */
const SETTINGS = { unit: 'us', pulsesPerTurn: 8 }

describe('a log', () => {
  const logs: ReadonlyArray<readonly [string, string]> = [
    ['of a million columns', '1,'.repeat(1_000_000)],
    ['with a quote that is not closed', `"${'1\n'.repeat(1_000_000)}`],
    ['with a cell of ten million digits', `1\n${'1'.repeat(10_000_000)}`],
    ['of a million empty lines', '\n'.repeat(1_000_000)],
    ['of NULs', '\0'.repeat(1_000_000)],
    ['of separators alone', `${',;\t'.repeat(10)}\n`.repeat(30_000)],
  ]
  for (const [what, text] of logs) {
    test(what, async () => {
      const answer = await answerTo('analyzeLogTable', 'text/csv', text, SETTINGS)
      const codes = ['csv-not-understood', 'csv-column-missing', 'csv-cell-not-a-number', 'too-few-readings']
      expect(codes, answer.text.slice(0, 300)).toContain(answer.body.code)
      expectProblem(likeOf(answer), 422, answer.body.code)
    })
  }
})

describe('a track', () => {
  const gpx = (inside: string, before = '') =>
    `<?xml version="1.0"?>${before}<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="x">${inside}</gpx>`
  const point = (inside: string) =>
    gpx(`<trk><trkseg><trkpt lat="48" lon="11">${inside}</trkpt></trkseg></trk>`)
  const laughs = Array.from({ length: 10 }, (_, n) => `<!ENTITY l${n + 1} "${`&l${n};`.repeat(10)}">`).join(
    '',
  )
  const tracks: ReadonlyArray<readonly [string, string, RegExp]> = [
    [
      'with entities that double and double again',
      gpx('<name>&l10;</name>', `<!DOCTYPE gpx [<!ENTITY l0 "ha">${laughs}]>`),
      /document type/,
    ],
    [
      'with an entity from a file',
      gpx('<name>&f;</name>', '<!DOCTYPE gpx [<!ENTITY f SYSTEM "file:///etc/passwd">]>'),
      /document type/,
    ],
    [
      'with an entity from the net',
      gpx('', '<!DOCTYPE gpx [<!ENTITY % p SYSTEM "http://127.0.0.1:1/x"> %p;]>'),
      /document type/,
    ],
    [
      'with a document type from elsewhere',
      gpx('', '<!DOCTYPE gpx SYSTEM "http://127.0.0.1:1/x">'),
      /document type/,
    ],
    [
      'with a document type that goes on and on',
      `<!DOCTYPE gpx [${'<!ENTITY a "b">'.repeat(500_000)}`,
      /document type|not XML/,
    ],
    ['with an entity that nobody made', gpx('<name>&other;</name>'), /not XML/],
    ['nested a hundred thousand deep', gpx('<a>'.repeat(100_000)), /levels deep/],
    [
      'with a hundred thousand attributes in one place',
      gpx(`<a ${Array.from({ length: 100_000 }, (_, n) => `a${n}="1"`).join(' ')}/>`),
      /./,
    ],
    [
      'with a hundred thousand namespaces in one place',
      gpx(`<a ${Array.from({ length: 100_000 }, (_, n) => `xmlns:a${n}="u${n}"`).join(' ')}/>`),
      /./,
    ],
    ['with an attribute of ten million characters', gpx(`<a b="${'x'.repeat(10_000_000)}"/>`), /./],
    ['with a name of ten million characters', gpx(`<${'a'.repeat(10_000_000)}/>`), /./],
    ['with a comment of ten million characters', gpx(`<!--${'a'.repeat(10_000_000)}-->`), /./],
    [
      'with a comment that is not closed',
      gpx(`<!--${'a'.repeat(1_000_000)}`).replace('</gpx>', ''),
      /not XML/,
    ],
    ['with a section of text that is not closed', gpx(`<![CDATA[${'a'.repeat(1_000_000)}`), /not XML/],
    ['with a tag that is not closed', `<gpx ${'a'.repeat(1_000_000)}`, /not XML/],
    [
      'with a time of ten million characters',
      point(`<time>${'1'.repeat(10_000_000)}</time>`),
      /not a date-time/,
    ],
    [
      'with a million references to characters',
      point(`<time>${'&#49;'.repeat(1_000_000)}</time>`),
      /not a date-time/,
    ],
    ['with a reference to no character', gpx('<name>&#x110000;</name>'), /not XML/],
    ['with two roots', `${gpx('')}${gpx('').replace(/^<\?xml.*?\?>/, '')}`, /not XML/],
  ]
  for (const [what, text, said] of tracks) {
    test(what, async () => {
      const answer = await answerTo('measureGpxTrack', 'application/gpx+xml', text)
      expect([400, 422], answer.text.slice(0, 300)).toContain(answer.status)
      const { detail } = expectProblem(likeOf(answer), answer.status, answer.body.code)
      expect(detail).toMatch(said)
      expect(answer.text).not.toMatch(/root:|passwd/)
    })
  }

  test('of more bytes than are taken is a 413', async () => {
    const answer = await answerTo('measureGpxTrack', 'application/gpx+xml', gpx(' '.repeat(17 * MEBIBYTE)))
    expectProblem(likeOf(answer), 413, 'body-too-large')
  })
})
