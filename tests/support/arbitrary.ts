import fc from 'fast-check'
import { resolved } from '../../src/reference/references.js'
import { branchTaking, isText, type OpenApi, type Schema } from './contract.js'

/** Names of fields whose value only the test can know, such as ids of stored things, with values to choose from. */
export type Known = Readonly<Record<string, readonly unknown[]>>

/** Random values that a schema of the document admits. Text without a fixed list comes from its examples, or at random. */
export function arbitraryOf(document: OpenApi, given: Schema, known: Known = {}): fc.Arbitrary<unknown> {
  const schema = resolved(document, given)
  if (Array.isArray(schema.anyOf)) {
    return fc.oneof(...(schema.anyOf as Schema[]).map((branch) => arbitraryOf(document, branch, known)))
  }
  if (Array.isArray(schema.enum)) return fc.constantFrom(...(schema.enum as unknown[]))
  switch (schema.type) {
    case 'object':
      return objectOf(document, schema, known)
    case 'array': {
      const item = arbitraryOf(document, schema.items as Schema, known)
      const minLength = (schema.minItems as number | undefined) ?? 0
      const maxLength = Math.max(
        minLength,
        Math.min((schema.maxItems as number | undefined) ?? 5, minLength + 4),
      )
      return schema.uniqueItems === true
        ? fc.uniqueArray(item, { minLength, maxLength, selector: (value) => JSON.stringify(value) })
        : fc.array(item, { minLength, maxLength })
    }
    case 'number':
      return numberOf(schema)
    case 'integer':
      return fc.integer({
        min: (schema.minimum as number | undefined) ?? -1_000_000,
        max: (schema.maximum as number | undefined) ?? 1_000_000,
      })
    case 'boolean':
      return fc.boolean()
    case 'string':
      return textOf(schema)
    default:
      throw new Error(`no arbitrary for ${JSON.stringify(schema).slice(0, 200)}`)
  }
}

/**
 * Values like an example: a few of its parts are another value that the schema admits, optional ones are left out or added.
 * Values at random seldom make sense together; these mostly do, and so reach far into a computation.
 */
export function arbitraryLike(
  document: OpenApi,
  given: Schema,
  example: unknown,
  known: Known = {},
): fc.Arbitrary<unknown> {
  const schema = branchTaking(document, given, example)
  const mostly = (arbitrary: fc.Arbitrary<unknown>) =>
    fc.oneof(
      { weight: 11, arbitrary },
      { weight: 1, arbitrary: fc.constant(null).chain(() => arbitraryOf(document, given, known)) },
    )
  if (Array.isArray(example)) {
    const items = example.map((item) => arbitraryLike(document, schema.items as Schema, item, known))
    const list = fc.tuple(...items)
    const allDiffer = (values: unknown[]) =>
      new Set(values.map((item) => JSON.stringify(item))).size === values.length
    return mostly(schema.uniqueItems === true ? list.filter(allDiffer) : list)
  }
  if (typeof example !== 'object' || example === null) return mostly(fc.constant(example))
  const required = (schema.required as string[] | undefined) ?? []
  const parts = Object.entries(schema.properties ?? {}).map(([key, inner]) => {
    const value = (example as Record<string, unknown>)[key]
    const absent = fc.constant(undefined)
    const fresh = fieldOf(document, key, inner, known)
    const present = value === undefined || key in known ? fresh : arbitraryLike(document, inner, value, known)
    if (required.includes(key)) return present
    return value === undefined
      ? fc.oneof({ weight: 14, arbitrary: absent }, { weight: 1, arbitrary: present })
      : fc.oneof({ weight: 14, arbitrary: present }, { weight: 1, arbitrary: absent })
  })
  const keys = Object.keys(schema.properties ?? {})
  return mostly(
    fc
      .tuple(...parts)
      .map((values) =>
        Object.fromEntries(
          keys.flatMap((key, index) => (values[index] === undefined ? [] : [[key, values[index]]])),
        ),
      )
      .filter((value) => isWhole(schema, value)),
  )
}

function fieldOf(document: OpenApi, key: string, schema: Schema, known: Known): fc.Arbitrary<unknown> {
  const values = known[key]
  return values === undefined
    ? arbitraryOf(document, schema, known)
    : fc.oneof(
        { weight: 9, arbitrary: fc.constantFrom(...values) },
        { weight: 1, arbitrary: arbitraryOf(document, schema) },
      )
}

function objectOf(document: OpenApi, schema: Schema, known: Known): fc.Arbitrary<unknown> {
  const properties = Object.fromEntries(
    Object.entries(schema.properties ?? {}).map(([key, inner]) => [
      key,
      fieldOf(document, key, inner, known),
    ]),
  )
  return fc
    .record(properties, { requiredKeys: (schema.required as string[] | undefined) ?? [] })
    .filter((value) => isWhole(schema, value))
}

/** What the schema asks of an object's fields together. */
function isWhole(schema: Schema, value: Record<string, unknown>): boolean {
  const least = (schema.minProperties as number | undefined) ?? 0
  const key = schema['x-plus-minus-below'] as string | undefined
  const uncertaintyBelow =
    key === undefined || value.plusMinus === undefined || (value.plusMinus as number) < (value[key] as number)
  return Object.keys(value).length >= least && uncertaintyBelow
}

function numberOf(schema: Schema): fc.Arbitrary<number> {
  const min = (schema.minimum as number | undefined) ?? -1e6
  const max = (schema.maximum as number | undefined) ?? 1e6
  const bounded = fc.double({ min, max, noNaN: true, noDefaultInfinity: true })
  // Values of every magnitude, and the bounds themselves.
  const spread =
    min >= 0 && max > 0
      ? fc
          .double({ min: 0, max: 1, noNaN: true })
          .map((t) => Math.min(max, Math.max(min, (min || max * 1e-6) * (max / (min || max * 1e-6)) ** t)))
      : bounded
  return fc.oneof(
    { weight: 3, arbitrary: spread },
    { weight: 2, arbitrary: bounded },
    { weight: 1, arbitrary: fc.constantFrom(min, max) },
  )
}

function textOf(schema: Schema): fc.Arbitrary<string> {
  const examples = (schema.examples as string[] | undefined) ?? []
  const minLength = (schema.minLength as number | undefined) ?? 0
  const maxLength = (schema.maxLength as number | undefined) ?? 1e4
  if (schema.format === 'date') {
    return fc
      .date({ min: new Date('1900-01-01'), max: new Date('2199-12-31'), noInvalidDate: true })
      .map((date) => date.toISOString().slice(0, 10))
  }
  const pattern = schema.pattern as string | undefined
  const any = fc.string({ minLength, maxLength: Math.min(maxLength, minLength + 30), unit: 'grapheme' })
  const rule = schema['x-text'] as string | undefined
  // Most of what the pattern of a plain text takes is longer than the text may be.
  const random = (
    pattern === undefined || rule !== undefined ? any : fc.stringMatching(new RegExp(pattern, 'u'))
  ).filter(
    (text) =>
      [...text].length >= minLength &&
      [...text].length <= maxLength &&
      (pattern === undefined || new RegExp(pattern, 'u').test(text)) &&
      (rule === undefined || isText(rule, text)),
  )
  return examples.length === 0
    ? random
    : fc.oneof({ weight: 4, arbitrary: fc.constantFrom(...examples) }, { weight: 1, arbitrary: random })
}
