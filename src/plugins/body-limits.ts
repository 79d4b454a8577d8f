import type { FastifyInstance } from 'fastify'
import { shapeAt } from '../schemas/named-shapes.js'

declare module 'fastify' {
  interface FastifyContextConfig {
    /** Schema of the record that a merge patch changes: the patch need not be longer than the record. */
    patches?: object
  }
}

/** Smallest limit [bytes]: leaves room for white space, and for faults that deserve a more precise problem than the length. */
const MIN_BYTES = 65_536

/** Length of a number with twenty digits, sign, decimal point and exponent. */
const NUMBER = 27
/** Length of the longest form of a character: \u and four digits. */
const CHARACTER = 6

interface Schema {
  readonly $ref?: string
  readonly anyOf?: readonly Schema[]
  readonly enum?: readonly unknown[]
  readonly const?: unknown
  readonly type?: string
  readonly properties?: Readonly<Record<string, Schema>>
  readonly additionalProperties?: boolean
  readonly items?: Schema
  readonly maxItems?: number
  readonly maxLength?: number
}

const longestOf = (values: readonly number[]) => Math.max(0, ...values)

/** Length of the longest JSON text that a schema allows [bytes], without white space. */
export function longestJson(schema: Schema, known = new Map<string, number>()): number {
  const { $ref, anyOf, enum: values, type } = schema
  if ($ref !== undefined) {
    let longest = known.get($ref)
    if (longest === undefined) {
      longest = longestJson(shapeAt($ref) as Schema, known)
      known.set($ref, longest)
    }
    return longest
  }
  if (anyOf !== undefined) return longestOf(anyOf.map((branch) => longestJson(branch, known)))
  if (values !== undefined) return longestOf(values.map((value) => JSON.stringify(value).length))
  if (schema.const !== undefined) return JSON.stringify(schema.const).length
  switch (type) {
    case 'object': {
      if (schema.additionalProperties !== false) return Number.POSITIVE_INFINITY
      const members = Object.entries(schema.properties ?? {})
      return members.reduce((sum, [name, inner]) => sum + name.length + 4 + longestJson(inner, known), 2)
    }
    case 'array':
      return 2 + (schema.maxItems ?? Number.POSITIVE_INFINITY) * (1 + longestJson(schema.items ?? {}, known))
    case 'string':
      return 2 + CHARACTER * (schema.maxLength ?? Number.POSITIVE_INFINITY)
    case 'number':
    case 'integer':
      return NUMBER
    case 'boolean':
      return 5
    default:
      return Number.POSITIVE_INFINITY
  }
}

/**
 * Limits the body of each route to the longest JSON text of its schema, and to `maxBytes`: reading megabytes that cannot be valid would
 * delay every other request. A limit that a route sets itself is not changed.
 */
export function registerBodyLimits(app: FastifyInstance, maxBytes: number): void {
  const known = new Map<string, number>()
  app.addHook('onRoute', (route) => {
    const body = (route.config?.patches ?? route.schema?.body) as Schema | undefined
    if (body === undefined) return
    route.bodyLimit ??= Math.min(maxBytes, Math.max(MIN_BYTES, longestJson(body, known)))
  })
}
