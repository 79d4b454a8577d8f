import { DomainError } from '../domain/errors.js'
import { shapeOf } from './plan.js'

type Fields = Readonly<Record<string, unknown>>
type Check = (part: unknown, pointer: string) => void

/** What a schema says of fields that need or exclude each other. */
interface FieldRules {
  readonly dependentRequired?: Readonly<Record<string, readonly string[]>>
  readonly dependentSchemas?: Readonly<Record<string, { readonly properties?: Fields }>>
  readonly oneOf?: ReadonlyArray<{ readonly required: readonly [string] }>
}

/** Refuses a field without the one that it belongs to. */
function needed(given: Fields, field: string, other: string, pointer: string): void {
  if (given[other] === undefined || given[field] !== undefined) return
  throw new DomainError(
    'needs-another-field',
    `${field}: is needed with ${other}; give it, or leave out ${other}`,
    { pointer: `${pointer}/${field}` },
  )
}

/** Refuses a field beside one that makes it meaningless: nothing that was given is silently left unused. */
function excluded(given: Fields, field: string, other: string, pointer: string): void {
  if (given[field] === undefined || given[other] === undefined) return
  throw new DomainError(
    'fields-exclude-each-other',
    `${other}: has no meaning beside ${field}; leave out one of the two`,
    { pointer: `${pointer}/${other}` },
  )
}

/** Refuses a value with none of several alternative fields, or with more than one. */
function exactlyOne(given: Fields, fields: readonly string[], pointer: string): void {
  const [first, second] = fields.filter((field) => given[field] !== undefined)
  if (first === undefined) {
    throw new DomainError('needs-another-field', `${fields[0]}: is needed; give ${fields.join(' or ')}`, {
      pointer: `${pointer}/${fields[0]}`,
    })
  }
  if (second !== undefined) excluded(given, first, second, pointer)
}

function ownRules(schema: object): Check | undefined {
  const { dependentRequired = {}, dependentSchemas = {}, oneOf = [] } = schema as FieldRules
  const alternatives = oneOf.map(({ required: [field] }) => field)
  const exclusions = Object.entries(dependentSchemas).flatMap(([field, { properties = {} }]) =>
    Object.entries(properties).flatMap(([other, allowed]) =>
      allowed === false ? [[field, other] as const] : [],
    ),
  )
  const needs = Object.entries(dependentRequired).flatMap(([other, fields]) =>
    fields.map((field) => [field, other] as const),
  )
  if (exclusions.length + needs.length + alternatives.length === 0) return undefined
  return (part, pointer) => {
    if (alternatives.length > 0) exactlyOne(part as Fields, alternatives, pointer)
    for (const [field, other] of exclusions) excluded(part as Fields, field, other, pointer)
    for (const [field, other] of needs) needed(part as Fields, field, other, pointer)
  }
}

/**
 * What checks the fields of a value that exclude each other (`dependentSchemas` with a property `false`), that need another
 * (`dependentRequired`) and that are alternatives (`oneOf` with one required field each), at any depth; undefined where the schema says
 * nothing of them. The validator leaves all three to this: the problem then says what to do, by a code of its own. `dependentSchemas` with
 * `anyOf` states a rule across objects for clients; the computation itself checks it.
 */
export function fieldRules(schema: object): Check | undefined {
  const shape = shapeOf(schema)
  const { properties = {}, items, anyOf = [] } = shape
  const own = ownRules(shape)
  const inner = Object.entries(properties).flatMap(([key, property]) => {
    const check = fieldRules(property)
    return check === undefined ? [] : [[key, check] as const]
  })
  const ofItem = items === undefined ? undefined : fieldRules(items)
  const forms = anyOf.flatMap((form) => fieldRules(form) ?? [])
  if (own === undefined && inner.length === 0 && ofItem === undefined && forms.length === 0) return undefined
  return (part, pointer) => {
    if (typeof part !== 'object' || part === null) return
    own?.(part, pointer)
    for (const [key, check] of inner) {
      const value = (part as Fields)[key]
      if (value !== undefined) check(value, `${pointer}/${key}`)
    }
    if (ofItem !== undefined)
      for (const [index, item] of (part as readonly unknown[]).entries()) ofItem(item, `${pointer}/${index}`)
    for (const check of forms) check(part, pointer)
  }
}
