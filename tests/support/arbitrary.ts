import fc from 'fast-check'
import { type OpenApi, resolve, type Schema } from './contract.js'

/** Random values that a schema of the document admits. Text without a fixed list comes from its examples, or at random. */
export function arbitraryOf(document: OpenApi, given: Schema): fc.Arbitrary<unknown> {
  const schema = resolve(document, given)
  if (Array.isArray(schema.anyOf)) {
    return fc.oneof(...(schema.anyOf as Schema[]).map((branch) => arbitraryOf(document, branch)))
  }
  if (Array.isArray(schema.enum)) return fc.constantFrom(...(schema.enum as unknown[]))
  switch (schema.type) {
    case 'object':
      return objectOf(document, schema)
    case 'array': {
      const item = arbitraryOf(document, schema.items as Schema)
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

function objectOf(document: OpenApi, schema: Schema): fc.Arbitrary<unknown> {
  const properties = Object.fromEntries(
    Object.entries(schema.properties ?? {}).map(([key, inner]) => [key, arbitraryOf(document, inner)]),
  )
  const least = (schema.minProperties as number | undefined) ?? 0
  return fc
    .record(properties, { requiredKeys: (schema.required as string[] | undefined) ?? [] })
    .filter((value) => Object.keys(value).length >= least)
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
  const maxLength = Math.min((schema.maxLength as number | undefined) ?? 30, minLength + 30)
  const random =
    typeof schema.pattern === 'string'
      ? fc
          .stringMatching(new RegExp(schema.pattern, 'u'))
          .filter(
            (text) =>
              text.length >= minLength && text.length <= ((schema.maxLength as number | undefined) ?? 1e4),
          )
      : fc
          .string({ minLength, maxLength, unit: 'grapheme' })
          .filter(
            (text) =>
              [...text].length <= ((schema.maxLength as number | undefined) ?? 1e4) &&
              [...text].length >= minLength,
          )
  return examples.length === 0
    ? random
    : fc.oneof({ weight: 4, arbitrary: fc.constantFrom(...examples) }, { weight: 1, arbitrary: random })
}
