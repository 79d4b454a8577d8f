import fc from 'fast-check'
import { operationOf, readOpenApi, requestExamples } from './contract.js'

/** Cells that spreadsheets, quotes and separators are hard on, numbers of every kind, and words of the tables. */
const cell = fc.oneof(
  fc.constantFrom(
    '',
    '0',
    '-1',
    '1e400',
    '1.5',
    '1,5',
    'NaN',
    ' 7 ',
    '0x10',
    '=1+1',
    "'x",
    '"',
    'a,b',
    'a\nb',
  ),
  fc.constantFrom(
    'driven-gear',
    'outer',
    'inner',
    'thread',
    'shaft',
    'fits',
    'measured',
    'radial',
    '195/70R14',
  ),
  fc.double({ noDefaultInfinity: true }).map(String),
  fc.string({ maxLength: 20 }),
  fc.string({ maxLength: 10, unit: 'binary' }),
)

const quoted = (text: string) => (/[",\r\n;]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text)

const lineEnd = fc.constantFrom('\n', '\r\n', '\r')

/** Tables of the columns that an import takes: its example with cells put in the place of others, and rows of any cells. */
export function anyTable(operationId: string): fc.Arbitrary<string> {
  const operation = operationOf(operationId)
  const [example] = requestExamples(readOpenApi(), operation) as string[]
  const [header, ...rows] = example!.trim().split('\n')
  const columns = header!.split(',')
  const row = fc.array(cell.map(quoted), { minLength: 1, maxLength: columns.length })
  const changed = fc
    .tuple(fc.constantFrom(...rows), fc.nat(columns.length - 1), cell)
    .map(([text, place, value]) => {
      const cells = text.match(/"(?:[^"]|"")*"|[^,]*/g)!.filter((_, index) => index % 2 === 0)
      return cells.with(place % cells.length, quoted(value))
    })
  return fc
    .tuple(fc.array(fc.oneof(changed, row), { minLength: 1, maxLength: 4 }), lineEnd)
    .map(([lines, end]) => [header, ...lines.map((cells) => cells.join(','))].join(end))
}

/** Recorded logs: numbers that may be periods or times, with a name above them or none, and now and then another cell. */
export const anyLog = fc
  .tuple(
    fc.constantFrom('', 'time', 'period,other'),
    fc.array(
      fc.oneof({ weight: 12, arbitrary: fc.double({ min: 900, max: 1100 }).map(String) }, cell.map(quoted)),
      {
        maxLength: 120,
      },
    ),
    lineEnd,
  )
  .map(([head, values, end]) => [...(head === '' ? [] : [head]), ...values].join(end))

const degrees = (from: number) =>
  fc.oneof(
    { weight: 12, arbitrary: fc.double({ min: 0, max: 0.05, noNaN: true }).map((d) => String(from + d)) },
    { weight: 1, arbitrary: fc.constantFrom('90', '-180', '91', '1e5', 'NaN', '', '48,1') },
  )

const time = fc
  .oneof(
    { weight: 12, arbitrary: fc.integer({ min: 0, max: 3599 }) },
    { weight: 1, arbitrary: fc.constant(-1) },
  )
  .map((s) => (s < 0 ? '2026-02-30T00:00:00Z' : new Date(Date.UTC(2026, 4, 1, 12) + s * 1000).toISOString()))

/** Tracks of GPX 1.1, most of them recorded in order. */
export const anyGpx = fc
  .tuple(
    fc.array(
      fc.tuple(degrees(48), degrees(11), time, fc.constantFrom('', '<ele>500</ele>', '<b/>', '&amp;', '&b;')),
      {
        maxLength: 12,
      },
    ),
    fc.boolean(),
  )
  .map(([points, inOrder]) => {
    const sorted = inOrder ? points.toSorted((a, b) => (a[2] < b[2] ? -1 : 1)) : points
    const text = sorted.map(
      ([lat, lon, at, extra]) => `<trkpt lat="${lat}" lon="${lon}">${extra}<time>${at}</time></trkpt>`,
    )
    return `<?xml version="1.0"?><gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="x"><trk><trkseg>${text.join('')}</trkseg></trk></gpx>`
  })

/** Lines of JSON: vehicles as the document shows them, and others that are none. */
export const anyLines = fc
  .tuple(
    fc.array(
      fc.oneof(
        fc.constantFrom(
          ...requestExamples(readOpenApi(), operationOf('checkVehicle')).map((vehicle) =>
            JSON.stringify({ vehicle }),
          ),
        ),
        fc.json({ maxDepth: 3 }),
        fc.constantFrom('', ' ', '{', '{"a":1,"a":2}', '\u0000'),
      ),
      { minLength: 1, maxLength: 6 },
    ),
    lineEnd,
  )
  .map(([lines, end]) => lines.join(end === '\r' ? '\n' : end))
