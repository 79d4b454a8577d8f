import { pointerPart } from '../../src/http/pointer.js'

/** A hostile JSON text, made from a valid body. */
export interface HostileBody {
  readonly what: string
  readonly make: () => string | Buffer
  /** JSON Pointer of the changed place. */
  readonly at: string
  /** Expected problem code; left out: the schema decides. */
  readonly code?: 'malformed-json' | 'nested-too-deep' | 'duplicate-key'
  /** Too large to validate by the schema here; always refused. */
  readonly large?: boolean
}

interface Place {
  readonly path: readonly string[]
  readonly value: unknown
}

const isObject = (value: unknown): value is Record<string, unknown> =>
  typeof value === 'object' && value !== null && !Array.isArray(value)

/** Number of items of a list that are changed: the others have the same schema. */
const MAX_ITEMS = 2

function* placesIn(value: unknown, path: readonly string[] = []): Generator<Place> {
  yield { path, value }
  if (typeof value !== 'object' || value === null) return
  const inner = Object.entries(value)
  for (const [key, item] of Array.isArray(value) ? inner.slice(0, MAX_ITEMS) : inner)
    yield* placesIn(item, [...path, key])
}

/** The JSON text of a value with another text at one of its places. */
function textWith(value: unknown, [key, ...rest]: readonly string[], text: string): string {
  if (key === undefined) return text
  const inner = Object.entries(value as object).map(([name, item]) => {
    const written = name === key ? textWith(item, rest, text) : JSON.stringify(item)
    return Array.isArray(value) ? written : `${JSON.stringify(name)}:${written}`
  })
  return Array.isArray(value) ? `[${inner.join(',')}]` : `{${inner.join(',')}}`
}

const pointerTo = ({ path }: Place) => path.map(pointerPart).join('')

/** Unusual numbers that JSON allows. */
const NUMBERS: ReadonlyArray<readonly [string, () => string]> = [
  ...['1e400', '-1e400', '-0', '1e-400', '5e-324', '1.7976931348623157e308', '-0.0e-0'].map(
    (text) => [text, () => text] as const,
  ),
  ['2^53 + 1', () => '9007199254740993'],
  ['-(2^53 + 1)', () => '-9007199254740993'],
  ['100 000 digits', () => `1${'0'.repeat(100_000)}`],
  ['100 000 decimals', () => `0.${'1'.repeat(100_000)}`],
  ['100 000 digits and an exponent that takes them back', () => `1${'0'.repeat(100_000)}e-100000`],
]

/** Unusual texts that JSON allows: control characters, lone surrogates, directional and invisible characters. */
const TEXTS: ReadonlyArray<readonly [string, () => string]> = [
  ...[
    '\\u0000',
    'a\\u0000b',
    '\\b',
    '\\u001b[31mred',
    'a\\u007f',
    'a\\u0085b',
    'a\\u2028b',
    'a\\u202eb',
    'a\\ufeff',
    'a\\uffff',
    '\\ud800',
    '\\udc00\\ud800',
    '\\ud83d\\ude00',
    '../../etc',
    "'; --",
    '<script>',
    '=1+1',
  ].map((text) => [text, () => text] as const),
  ['a million letters', () => 'a'.repeat(1_000_000)],
  ['300 000 emoji', () => '😀'.repeat(200_000)],
  ['100 000 escapes', () => '\\u0061'.repeat(100_000)],
]

/** Bytes that are not allowed in a JSON string. */
const BYTES: ReadonlyArray<readonly [string, readonly number[]]> = [
  ['a raw NUL', [0]],
  ['a raw line break', [0x0a]],
  ['a raw escape character', [0x1b]],
  ['a lone continuation byte', [0x80]],
  ['an overlong form', [0xc0, 0x80]],
  ['a surrogate in UTF-8', [0xed, 0xa0, 0x80]],
  ['a byte of no encoding', [0xff]],
  ['a character cut off', [0xf0, 0x9f, 0x98]],
]

const MANY = 200_000

/** Lists and objects with very many small members. */
const CROWDS: ReadonlyArray<readonly [string, () => string]> = [
  ...['0', '[]', '{}', '"a"', 'null'].map(
    (item) => [`${MANY} times ${item}`, () => `[${`${item},`.repeat(MANY - 1)}${item}]`] as const,
  ),
  ['60 000 members', () => `{${Array.from({ length: 60_000 }, (_, n) => `"k${n}":0`).join(',')}}`],
]

const DEEP = 10_000

/** Pairs each value with one place, or with every place. */
function* spread<T>(values: readonly T[], places: readonly Place[], everywhere: boolean, turn: number) {
  if (places.length === 0) return
  for (const [index, value] of values.entries()) {
    if (everywhere) for (const place of places) yield [value, place] as const
    else yield [value, places[(index + turn) % places.length]!] as const
  }
}

/**
 * Hostile texts made from a valid body.
 *
 * @param everywhere - Each kind at each place; otherwise each kind at one place
 * @param turn - Selects that place: a different one for each operation
 */
export function* hostileBodies(valid: object, everywhere: boolean, turn: number): Generator<HostileBody> {
  const places = [...placesIn(valid)]
  const of = (test: (value: unknown) => boolean) => places.filter(({ value }) => test(value))
  const numbers = of((value) => typeof value === 'number')
  const texts = of((value) => typeof value === 'string')
  const objects = of(isObject)
  const fields = places.filter(({ path }) => path.length === 1)
  const containers = fields.filter(({ value }) => typeof value === 'object')
  const put = (place: Place, text: string) => textWith(valid, place.path, text)

  const deep = [
    ['lists', '['.repeat(DEEP) + ']'.repeat(DEEP)],
    ['objects', '{"a":'.repeat(DEEP) + 0 + '}'.repeat(DEEP)],
  ] as const
  const wholeOrField = [places[0]!, ...fields]
  for (const [[what, text], place] of spread(deep, wholeOrField, everywhere, turn)) {
    const at = pointerTo(place)
    yield { what: `${DEEP} ${what} in each other`, make: () => put(place, text), at, code: 'nested-too-deep' }
  }
  for (const [[what, make], place] of spread(NUMBERS, numbers, everywhere, turn))
    yield { what, make: () => put(place, make()), at: pointerTo(place) }
  for (const [[what, make], place] of spread(TEXTS, texts, everywhere, turn))
    yield { what, make: () => put(place, `"${make()}"`), at: pointerTo(place) }
  for (const [[what, bytes], place] of spread(BYTES, texts, everywhere, turn)) {
    const make = () => {
      const [before, after] = put(place, '"HOLE"').split('HOLE')
      return Buffer.concat([Buffer.from(before!), Buffer.from(bytes), Buffer.from(after!)])
    }
    yield { what, make, at: pointerTo(place), code: 'malformed-json' }
  }
  const some = everywhere ? CROWDS : [CROWDS[turn % CROWDS.length]!]
  for (const [[what, make], place] of spread(some, containers, everywhere, turn))
    yield { what, make: () => put(place, make()), at: pointerTo(place), large: true }
  const full = objects.filter(({ value }) => Object.keys(value as object).length > 0)
  for (const [, place] of spread(full, full, false, 0)) {
    const members = JSON.stringify(place.value).slice(1, -1)
    const [key] = Object.keys(place.value as object)
    yield {
      what: `${key} twice`,
      make: () => put(place, `{${members},${JSON.stringify(key)}:null}`),
      at: pointerTo(place) + pointerPart(key!),
      code: 'duplicate-key',
    }
    for (const [name, value] of [
      ['__proto__', '{"polluted":1}'],
      ['constructor', '{"prototype":{"polluted":1}}'],
    ])
      yield {
        what: `${name}, as if to change every object`,
        make: () => put(place, `{${members},"${name}":${value}}`),
        at: pointerTo(place) + pointerPart(name!),
      }
  }
}

/** The value at a place of a document; undefined where there is none. */
export function valueAt(document: unknown, pointer: string): unknown {
  let value = document
  for (const part of pointer.split('/').slice(1))
    value = (value as Record<string, unknown> | undefined)?.[part.replaceAll('~1', '/').replaceAll('~0', '~')]
  return value
}
