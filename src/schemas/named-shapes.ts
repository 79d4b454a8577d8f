import { type Static, type TProperties, type TSchema, type TUnsafe, Type } from '@sinclair/typebox'

const INPUT = Symbol('input')

/** Name of the uncertainty of a field in the budget. */
export const inputOf = (schema: object): string | undefined => (schema as { [INPUT]?: string })[INPUT]

/** The schema itself, or the named shape that it refers to. */
export function resolved(schema: object): object {
  const { $ref } = schema as { $ref?: unknown }
  return typeof $ref === 'string' ? (shapeAt($ref) ?? schema) : schema
}

type NamedShape = TSchema & { $id: string }

const NAMED = new Map<string, NamedShape>()

const addressOf = (id: string) => `${id}#`

/**
 * Registers a shape under its name: it becomes a component of the OpenAPI document.
 *
 * @throws {Error} when the name is taken
 */
export function named<T extends TSchema>(id: string, schema: T): T {
  if (NAMED.has(addressOf(id))) throw new Error(`two shapes are named ${id}`)
  const shape = Object.assign(schema, { $id: id })
  NAMED.set(addressOf(id), shape)
  return shape
}

/** Options of an object that has the given fields and no other. */
export const closed = { additionalProperties: false }

/** Registers an object that has the given fields and no other. */
export const shape = <T extends TProperties>(id: string, description: string, fields: T) =>
  named(id, Type.Object(fields, { additionalProperties: false, description }))

/** A list of a named shape. */
export const listOf = <T extends TSchema>(item: T, maxItems: number, description: string) =>
  Type.Array(ref(item), { maxItems, description })

/** Every named shape that was registered so far, by name: their order in the contract does not follow the imports. */
export const namedShapes = (): readonly NamedShape[] =>
  [...NAMED.values()].sort((a, b) => (a.$id < b.$id ? -1 : 1))

/** The shape that a `$ref` names. */
export const shapeAt = ($ref: string): NamedShape | undefined => NAMED.get($ref)

/** The named shapes that a schema refers to, and those that they refer to. */
export function shapesIn(schema: object): readonly NamedShape[] {
  const found = new Set<NamedShape>()
  const visit = (value: unknown): void => {
    if (typeof value !== 'object' || value === null) return
    for (const inner of Object.values(value)) visit(inner)
    const { $ref } = value as { $ref?: unknown }
    const shape = typeof $ref === 'string' ? shapeAt($ref) : undefined
    if (shape === undefined || found.has(shape)) return
    found.add(shape)
    visit(shape)
  }
  visit(schema)
  return [...found]
}

/**
 * A reference to a named shape, typed as that shape.
 *
 * @param description - What it is in this place; a property needs one, an item of a list is described by its list
 * @param input - Name of its uncertainty in the budget, for a quantity of a request. `{n}` stands for the place in the list that it is
 *   in, from 1, `{name}` for the name of that item
 */
export function ref<T extends TSchema>(schema: T, description?: string, input?: string): TUnsafe<Static<T>> {
  const target = { $ref: addressOf(schema.$id!), ...(input === undefined ? {} : { [INPUT]: input }) }
  return Type.Unsafe<Static<T>>(description === undefined ? target : { ...target, description })
}
