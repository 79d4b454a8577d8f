import type { FastifyInstance } from 'fastify'
import { shapeAt } from '../schemas/measures.js'

declare module 'fastify' {
  interface FastifyContextConfig {
    /** Of a merge patch: the schema of what it changes, which the patch need not be longer than. */
    patches?: object
  }
}

/** Smallest limit [bytes]: room for blanks and for what is refused with a better reason than its length. */
const MIN_BYTES = 65_536

/** A number to twenty digits with sign, point and exponent. */
const NUMBER = 27
/** A character of text where it is longest: \u and four digits. */
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

/** Length of the longest JSON text that a schema admits [bytes], blanks left out. */
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
 * Lets each route take no longer a body than its schema can fill, and none longer than `most`: to read megabytes that say nothing
 * keeps everyone waiting. A route with a limit of its own keeps it.
 */
export function registerBodyLimits(app: FastifyInstance, most: number): void {
  const known = new Map<string, number>()
  app.addHook('onRoute', (route) => {
    const body = (route.config?.patches ?? route.schema?.body) as Schema | undefined
    if (body === undefined) return
    route.bodyLimit ??= Math.min(most, Math.max(MIN_BYTES, longestJson(body, known)))
  })
}
