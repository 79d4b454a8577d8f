import fc from 'fast-check'
import type { FitShape } from '../../src/schemas/fits.js'
import type { InterfaceShape } from '../../src/schemas/part-interfaces.js'
import type { PartShape } from '../../src/schemas/parts.js'
import type { TireSizeShape } from '../../src/schemas/tire-sizes.js'
import type { Client } from './app.js'

/** Text that spreadsheets, quotes and separators are hard on, and any other. */
const nasty = fc.constantFrom(
  '=1+1',
  '+44 1234',
  '-7',
  '@home',
  "'quoted",
  "''",
  "'=x",
  '"',
  'a,b',
  'semi;colon',
  ' padded ',
  '＝full',
  'é😀',
  '0012',
  '1e3',
  'TRUE',
)
const visible = fc.string({ unit: 'grapheme', minLength: 1, maxLength: 40 })

const isLine = (text: string) => /^(?=.*\S)[^\p{Cc}\p{Cs}\u2028\u2029]*$/u.test(text)
const isLines = (text: string) => /^(?=[\s\S]*\S)(?:[^\p{Cc}\p{Cs}]|[\t\n\r])*$/u.test(text)

export const anyLine = fc.oneof(nasty, visible.filter(isLine))
export const anyLines = fc
  .array(fc.oneof(nasty, visible, fc.constantFrom('\r\n', '\n', '\r', '\t', ' ', '\r\r', '"\n"')), {
    minLength: 1,
    maxLength: 6,
  })
  .map((pieces) => pieces.join(''))
  .filter(isLines)

/** Any double of the range, and values as people write them. */
const value = (min: number, max: number) => {
  const any = fc.double({ min, max, noNaN: true })
  return fc.oneof(
    any,
    any.map((x) => Math.min(max, Math.max(min, Number(x.toPrecision(3))))),
  )
}

const measure = (minMm: number, maxMm: number) =>
  fc.oneof(
    fc.record({ mm: value(minMm, maxMm), plusMinus: value(0, 0.9) }, { requiredKeys: ['mm'] }),
    fc.record({ in: value(minMm / 25, maxMm / 26), plusMinus: value(0, 0.03) }, { requiredKeys: ['in'] }),
  )

const gender = fc.constantFrom('female' as const, 'male' as const)

/** Interfaces that a part can have. */
export const anyInterfaceShape: fc.Arbitrary<InterfaceShape> = fc.oneof(
  fc.record(
    {
      kind: fc.constant('bolt-circle' as const),
      bolts: fc.integer({ min: 2, max: 24 }),
      circleDiameter: measure(200, 500),
      boltHole: measure(1, 20),
      bore: measure(1, 150),
      gender,
    },
    { requiredKeys: ['kind', 'bolts', 'circleDiameter'] },
  ),
  fc.record({
    kind: fc.constant('shaft' as const),
    form: fc.constantFrom('square' as const, 'blade' as const, 'round' as const),
    size: measure(1, 50),
    gender,
  }),
  fc.record({
    kind: fc.constant('shaft' as const),
    form: fc.constant('spline' as const),
    size: measure(1, 50),
    teeth: fc.integer({ min: 3, max: 200 }),
    gender,
  }),
  fc.record({
    kind: fc.constant('thread' as const),
    designation: fc.constantFrom('M18x1.5', '7/8-18', '5/8-18 UNF', '1 1/8-12 LH'),
    gender,
  }),
  fc.record({ kind: fc.constant('bore' as const), diameter: measure(1, 100) }),
  fc.record(
    {
      kind: fc.constant('flange' as const),
      diameter: measure(200, 300),
      spigotDiameter: measure(10, 150),
      thickness: measure(1, 50),
      gender,
    },
    { requiredKeys: ['kind', 'diameter'] },
  ),
)

export const anyPart: fc.Arbitrary<PartShape> = fc.record(
  {
    kind: fc.constantFrom(
      'driven-gear' as const,
      'cable' as const,
      'head' as const,
      'adapter-plate' as const,
    ),
    name: anyLine,
    maker: anyLine,
    number: anyLine,
    interfaces: fc.array(anyInterfaceShape, { maxLength: 8 }),
    teeth: fc.integer({ min: 1, max: 500 }),
    ratio: value(0.01, 100),
    pulsesPerTurn: fc.integer({ min: 1, max: 10_000 }),
    input: fc.constantFrom('turns' as const, 'pulses' as const),
    constant: fc.oneof(
      fc.record({ perMile: value(10, 100_000), plusMinus: value(0, 5) }, { requiredKeys: ['perMile'] }),
      fc.record({ perKm: value(10, 100_000), plusMinus: value(0, 5) }, { requiredKeys: ['perKm'] }),
    ),
    notes: anyLines,
  },
  { requiredKeys: ['kind', 'name', 'interfaces'] },
)

const year = fc.integer({ min: 1880, max: 2200 })

/** Reports about one part, of vehicles or of another part. */
export const anyFit = (part: string, otherPart: string): fc.Arbitrary<FitShape> => {
  const said = {
    part: fc.constant(part),
    result: fc.constantFrom('fits' as const, 'fits-with-work' as const, 'does-not-fit' as const),
    evidence: fc.constantFrom('road-tested' as const, 'hearsay' as const),
    work: anyLines,
    author: anyLine,
    date: fc.constantFrom('2024-02-29', '2025-12-31'),
  }
  const vehicle = fc
    .record(
      { make: anyLine, model: anyLine, yearFrom: year, yearTo: year, variant: anyLine },
      { requiredKeys: ['make', 'model'] },
    )
    .filter(({ yearFrom, yearTo }) => yearFrom === undefined || yearTo === undefined || yearFrom <= yearTo)
  const requiredKeys = ['part', 'result', 'evidence', 'author', 'date'] as const
  return fc.oneof(
    fc.record({ ...said, vehicle }, { requiredKeys: [...requiredKeys, 'vehicle'] }),
    fc.record(
      { ...said, otherPart: fc.constant(otherPart) },
      { requiredKeys: [...requiredKeys, 'otherPart'] },
    ),
  )
}

export const anyTireSize: fc.Arbitrary<TireSizeShape> = fc.record(
  {
    size: fc
      .tuple(fc.integer({ min: 20, max: 79 }), fc.integer({ min: 13, max: 18 }))
      .map(([aspect, rim]) => `205/${aspect}R${rim}`),
    overallDiameter: measure(500, 900),
    sectionWidth: measure(150, 300),
    construction: fc.constant('radial' as const),
    source: anyLine,
  },
  { requiredKeys: ['size', 'overallDiameter', 'construction', 'source'] },
)

/** Deletes every fit report and part, so that a test begins with none. */
export async function deleteAll(admin: Client): Promise<void> {
  for (const [list, items] of [
    [
      '/v1/fits',
      (body: { parts: { fits: { reports: { id: string }[] }[] }[] }) =>
        body.parts.flatMap(({ fits }) => fits.flatMap(({ reports }) => reports)),
    ],
    ['/v1/parts', (body: { parts: { id: string }[] }) => body.parts],
  ] as const) {
    for (;;) {
      const found = items((await admin('GET', `${list}?limit=200`)).body)
      if (found.length === 0) break
      for (const { id } of found) await admin('DELETE', `${list}/${id}`, undefined, { 'if-match': '*' })
    }
  }
}
