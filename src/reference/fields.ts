import { nameOf, type Schema } from './document.js'

/** A row of the table of an object: a field, or a heading before the fields of an alternative. */
export type Row =
  | { readonly alternative: string }
  | { readonly name: string; readonly isRequired: boolean; readonly schema: Schema }

const alternativesOf = ({ anyOf, oneOf }: Schema): readonly Schema[] => anyOf ?? oneOf ?? []

/** Whether the fields of a schema are shown in the table of the object that contains it. */
const isInline = (schema: Schema): boolean =>
  schema.$ref === undefined &&
  (schema.properties !== undefined ||
    (schema.items !== undefined && isInline(schema.items)) ||
    alternativesOf(schema).some(isInline))

/**
 * The fields of a schema: those of an object without a name of its own follow it, under `parent.field`, and those of the items of a
 * list under `parent[].field`.
 */
export function rowsOf(schema: Schema, prefix = ''): Row[] {
  if (schema.$ref !== undefined) return []
  const own = Object.entries(schema.properties ?? {}).flatMap(([key, field]) => {
    const name = `${prefix}${key}`
    const isRequired = schema.required?.includes(key) ?? false
    return [{ name, isRequired, schema: field }, ...(isInline(field) ? rowsOf(field, `${name}.`) : [])]
  })
  const ofItems =
    schema.items !== undefined && isInline(schema.items)
      ? rowsOf(schema.items, prefix === '' ? '[].' : `${prefix.slice(0, -1)}[].`)
      : []
  const ofAlternatives = alternativesOf(schema)
    .filter(isInline)
    .flatMap((one, index) => [
      {
        alternative: [prefix.slice(0, -1), one.title ?? `alternative ${index + 1}`]
          .filter(Boolean)
          .join(', '),
      },
      ...rowsOf(one, prefix),
    ])
  return [...own, ...ofItems, ...ofAlternatives]
}

/** A piece of the description of a type: words, a value that is sent as it stands, or the name of an object. */
export type Piece = string | { readonly value: string } | { readonly object: string }

const value = (one: unknown): Piece => ({ value: JSON.stringify(one) })

/** Longest pattern that is shown: longer ones only exclude unusual characters. */
const LONGEST_PATTERN = 40

const joined = (lists: readonly Piece[][], between: string): Piece[] =>
  lists.flatMap((pieces, index) => (index === 0 ? pieces : [between, ...pieces]))

/** `from 1 to 20`, `at least 1`, `at most 20`, or nothing. */
function bounds(least: string | undefined, most: string | undefined): string {
  if (least !== undefined && most !== undefined) return `from ${least} to ${most}`
  if (least !== undefined) return `at least ${least}`
  return most === undefined ? '' : `at most ${most}`
}

const shown = (bound: number | undefined) => bound?.toString()

function rangeOf(schema: Schema): string {
  const { minimum, maximum, exclusiveMinimum, exclusiveMaximum } = schema
  return bounds(
    exclusiveMinimum === undefined ? shown(minimum) : `above ${exclusiveMinimum}`,
    exclusiveMaximum === undefined ? shown(maximum) : `below ${exclusiveMaximum}`,
  )
}

const withRange = (kind: string, range: string): Piece[] => [range === '' ? kind : `${kind}, ${range}`]

function textOf({ minLength, maxLength, pattern = '', format }: Schema): Piece[] {
  const length = bounds(shown(minLength), shown(maxLength))
  return [
    ...withRange(format === undefined ? 'text' : `text (${format})`, length && `${length} characters`),
    ...(pattern === '' || pattern.length > LONGEST_PATTERN ? [] : [', matching ', { value: pattern }]),
  ]
}

/** What a value may be, in words. */
export function typeOf(schema: Schema): Piece[] {
  const { $ref, enum: words, items, type } = schema
  if ($ref !== undefined) return [{ object: nameOf($ref) }]
  if (schema.const !== undefined) return ['always ', value(schema.const)]
  if (words !== undefined)
    return [
      words.length === 1 ? 'always ' : 'one of ',
      ...joined(
        words.map((one) => [value(one)]),
        ', ',
      ),
    ]
  const alternatives = alternativesOf(schema)
  if (alternatives.length > 0) {
    const plain = alternatives.filter((one) => !isInline(one)).map(typeOf)
    const inline = alternatives.filter(isInline).map(({ title }) => [title ?? 'object'])
    return joined([...plain, ...inline], ' or ')
  }
  if (type === 'array') {
    const length = bounds(shown(schema.minItems), shown(schema.maxItems))
    const ends = [length, schema.uniqueItems === true ? 'all different' : ''].filter(Boolean).join(', ')
    return [
      `list${ends === '' ? '' : ` (${ends})`} of `,
      ...(items === undefined ? ['anything'] : typeOf(items)),
    ]
  }
  if (type === 'string') return textOf(schema)
  if (type === 'integer') return withRange('whole number', rangeOf(schema))
  if (type === 'number') return withRange('number', rangeOf(schema))
  if (type === 'boolean') return [{ value: 'true' }, ' or ', { value: 'false' }]
  return [type ?? 'anything']
}

/** Names of the objects that schemas contain, each before those that it contains itself. */
export function objectsIn(schemas: readonly Schema[], named: Readonly<Record<string, Schema>>): string[] {
  const found = new Set<string>()
  const visit = (schema: Schema): void => {
    if (schema.$ref !== undefined) {
      const name = nameOf(schema.$ref)
      if (found.has(name)) return
      found.add(name)
      visit(named[name]!)
      return
    }
    for (const field of Object.values(schema.properties ?? {})) visit(field)
    if (schema.items !== undefined) visit(schema.items)
    for (const one of alternativesOf(schema)) visit(one)
  }
  for (const schema of schemas) visit(schema)
  return [...found]
}
