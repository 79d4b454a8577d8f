import type { TSchema } from '@sinclair/typebox'
import { DomainError } from '../domain/errors.js'

type Fields = Readonly<Record<string, unknown>>

/** What a schema says of fields that need or exclude each other. */
interface FieldRules {
  readonly dependentRequired?: Readonly<Record<string, readonly string[]>>
  readonly dependentSchemas?: Readonly<Record<string, { readonly properties?: Fields }>>
  readonly oneOf?: ReadonlyArray<{ readonly required: readonly [string] }>
}

/** Refuses a field without the one that it belongs to. */
export function needed(part: object, field: string, other: string): void {
  const given = part as Fields
  if (given[other] === undefined || given[field] !== undefined) return
  throw new DomainError(
    'needs-another-field',
    `${field}: is needed with ${other}; give it, or leave out ${other}`,
    { pointer: `/${field}` },
  )
}

/** Refuses a field beside one that makes it meaningless: nothing that was given is silently left unused. */
function excluded(part: object, field: string, other: string): void {
  const given = part as Fields
  if (given[field] === undefined || given[other] === undefined) return
  throw new DomainError(
    'fields-exclude-each-other',
    `${other}: has no meaning beside ${field}; leave out one of the two`,
    { pointer: `/${other}` },
  )
}

/** Refuses a body with none of several alternative fields, or with more than one. */
function exactlyOne(part: object, fields: readonly string[]): void {
  const [first, second] = fields.filter((field) => (part as Fields)[field] !== undefined)
  if (first === undefined) {
    throw new DomainError('needs-another-field', `${fields[0]}: is needed; give ${fields.join(' or ')}`, {
      pointer: `/${fields[0]}`,
    })
  }
  if (second !== undefined) excluded(part, first, second)
}

/**
 * Checks what the schema says of fields that exclude each other (`dependentSchemas` with a property `false`), of fields that need
 * another (`dependentRequired`), and of alternative fields (`oneOf` with one required field each). The validator leaves all
 * three to this: the problem then says what to do, by a code of its own. `dependentSchemas` with
 * `anyOf` states a rule across objects for clients; the computation itself checks it.
 *
 * @throws {DomainError} `fields-exclude-each-other`, `needs-another-field`
 */
export function checkFields(schema: TSchema, part: object): void {
  const { dependentRequired = {}, dependentSchemas = {}, oneOf = [] } = schema as FieldRules
  if (oneOf.length > 0)
    exactlyOne(
      part,
      oneOf.map(({ required: [field] }) => field),
    )
  for (const [field, { properties = {} }] of Object.entries(dependentSchemas)) {
    for (const [other, allowed] of Object.entries(properties)) {
      if (allowed === false) excluded(part, field, other)
    }
  }
  for (const [other, fields] of Object.entries(dependentRequired)) {
    for (const field of fields) needed(part, field, other)
  }
}
