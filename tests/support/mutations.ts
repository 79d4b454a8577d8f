import { pointerPart } from '../../src/http/pointer.js'
import { resolved } from '../../src/reference/references.js'
import { branchTaking, type OpenApi, type Schema } from './contract.js'

/** A change of one place of a valid value that breaks its schema. */
export interface Mutation {
  readonly what: string
  /** Makes the changed value; a function, since most are never needed. */
  readonly make: () => unknown
  /** JSON Pointers, any of which names the fault exactly. */
  readonly at: readonly string[]
  /** Too large to be sent often. */
  readonly large?: boolean
}

/** Field that no schema has, with all that a pointer has to escape. */
const UNKNOWN = 'no~such/field %'

/** The next double above, or below. */
export function neighbor(value: number, up: boolean): number {
  if (value === 0) return up ? Number.MIN_VALUE : -Number.MIN_VALUE
  const view = new DataView(new ArrayBuffer(8))
  view.setFloat64(0, value)
  view.setBigInt64(0, view.getBigInt64(0) + (value > 0 === up ? 1n : -1n))
  return view.getFloat64(0)
}

/** Number of items of a list that are changed: the others have the same schema. */
const MAX_ITEMS = 2

/** Texts that at least one pattern refuses. */
const ODD_TEXTS = ['\u0000', ' ', '\u0085', '\ud800', '\u2028', 'é', '!', '/', 'x']

/** The types that the branches of a schema accept. */
function typesOf(document: OpenApi, given: Schema): string[] {
  const schema = resolved(document, given)
  const branches = (schema.anyOf as Schema[] | undefined) ?? []
  return branches.length === 0 ? [schema.type!] : branches.flatMap((branch) => typesOf(document, branch))
}

/** Values of types that a schema does not accept. */
function* otherTypes(document: OpenApi, given: Schema, value: unknown): Generator<unknown> {
  const types = typesOf(document, given)
  yield null
  if (!types.includes('boolean')) yield true
  if (!types.includes('number') && !types.includes('integer')) yield 12345
  if (!types.includes('string')) yield JSON.stringify(value).slice(0, 100)
  if (!types.includes('object')) yield {}
  if (!types.includes('array')) yield [value]
}

/** Values outside the bounds of a schema, keyword by keyword. */
function* beyond(schema: Schema, value: unknown): Generator<readonly [string, () => unknown, boolean?]> {
  const { minimum, maximum, minItems, maxItems, minLength, maxLength, pattern } = schema as {
    [key: string]: number | undefined
  } & { pattern?: string }
  if (typeof value === 'number') {
    const step = (bound: number, up: boolean) =>
      schema.type === 'integer' ? bound + (up ? 1 : -1) : neighbor(bound, up)
    if (minimum !== undefined) yield ['one step below the minimum', () => step(minimum, false)]
    if (maximum !== undefined) yield ['one step above the maximum', () => step(maximum, true)]
    if (schema.type === 'integer') yield ['half of one more', () => value + 0.5]
    yield ['a number beyond all bounds', () => 1e308]
    yield ['a number below all bounds', () => -1e308]
  }
  if (Array.isArray(value)) {
    if (maxItems !== undefined && value.length > 0)
      yield [
        'one item too many',
        () => Array.from({ length: maxItems + 1 }, (_, index) => value[index % value.length]),
        maxItems > 100,
      ]
    if (minItems !== undefined && minItems > 0) yield ['one item too few', () => value.slice(0, minItems - 1)]
    if (schema.uniqueItems === true && value.length > 0) yield ['an item twice', () => [...value, value[0]]]
  }
  if (typeof value === 'string') {
    if (maxLength !== undefined)
      yield ['one character too many', () => value.padEnd(maxLength + 1, 'x'), maxLength > 10_000]
    if (minLength !== undefined && minLength > 0)
      yield ['one character too few', () => [...value].slice(0, minLength - 1).join('')]
    if (pattern !== undefined || schema.format !== undefined)
      for (const odd of ODD_TEXTS) {
        yield [`${JSON.stringify(odd)} at the end`, () => value.slice(0, -1) + odd]
        yield [`${JSON.stringify(odd)} alone`, () => odd.repeat(minLength ?? 1)]
      }
    if (Array.isArray(schema.enum)) yield ['a word that is not in the list', () => `${value}x`]
  }
}

/** Units that a measure may have and that this value does not: the keys of the other branches of its union. */
function otherUnits(document: OpenApi, given: Schema, value: Record<string, unknown>) {
  const branches = ((resolved(document, given).anyOf as Schema[] | undefined) ?? []).map((one) =>
    resolved(document, one),
  )
  const keys = branches.map((branch) => (branch.required as string[] | undefined) ?? [])
  // A measure: each branch requires one key, and each a different one.
  if (!keys.every((required) => required.length === 1)) return []
  return keys.flat().filter((key) => !Object.hasOwn(value, key))
}

/**
 * Changes of one place of a valid value, one for each keyword of its schema that can be broken. Some lead to a value that is valid
 * in another way: the caller has to validate it.
 */
export function* mutations(
  document: OpenApi,
  given: Schema,
  value: unknown,
  rebuild: (changed: unknown) => unknown = (changed) => changed,
  path = '',
): Generator<Mutation> {
  const schema = branchTaking(document, given, value)
  const chosen = schema !== resolved(document, given)
  for (const other of otherTypes(document, given, value))
    yield { what: `${JSON.stringify(other)} at ${path}`, make: () => rebuild(other), at: [path] }
  for (const [what, make, large = false] of beyond(schema, value))
    yield { what: `${what} at ${path}`, make: () => rebuild(make()), at: [path], large }
  if (Array.isArray(value)) {
    for (const [index, item] of value.slice(0, MAX_ITEMS).entries()) {
      yield* mutations(
        document,
        schema.items as Schema,
        item,
        (changed) => rebuild(value.with(index, changed)),
        path + pointerPart(index),
      )
    }
    return
  }
  if (typeof value !== 'object' || value === null) return
  const object = value as Record<string, unknown>
  for (const key of [UNKNOWN, 'constructor', 'toString', '']) {
    const at = [path + pointerPart(key)]
    yield { what: `an unknown field ${key} in ${path}`, make: () => rebuild({ ...object, [key]: 1 }), at }
  }
  for (const key of (schema.required as string[] | undefined) ?? []) {
    const { [key]: _, ...rest } = object
    // Where a union needs one of several keys, the fault is reported at the object.
    const at = chosen ? [path + pointerPart(key), path] : [path + pointerPart(key)]
    yield { what: `${path} without ${key}`, make: () => rebuild(rest), at }
  }
  for (const unit of otherUnits(document, given, object))
    yield {
      what: `a second unit ${unit} at ${path}`,
      make: () => rebuild({ ...object, [unit]: 1 }),
      at: [path],
    }
  for (const [key, inner] of Object.entries(object)) {
    yield* mutations(
      document,
      schema.properties![key]!,
      inner,
      (changed) => rebuild({ ...object, [key]: changed }),
      path + pointerPart(key),
    )
  }
}
