import { Ajv, type ErrorObject, type Options, type ValidateFunction } from 'ajv'
import ajvFormats from 'ajv-formats'
import type { FastifyInstance } from 'fastify'
import { type FieldFault, RequestProblem } from '../border/request-problem.js'
import { namedShapes } from '../schemas/measures.js'
import { Explainer } from './explain.js'

/** Words of the contract that are not JSON Schema: units for people and programs. */
export const CONTRACT_KEYWORDS = ['x-unit', 'x-dimensionless']

/** Values in a request up to which every fault is looked for; in a larger one only the first is. */
const MOST_VALUES = 2000

const OPTIONS: Options = {
  verbose: true,
  removeAdditional: false,
  useDefaults: true,
  strictTypes: false,
  keywords: CONTRACT_KEYWORDS,
}

function validator(options: Options): Ajv {
  const ajv = new Ajv({ ...OPTIONS, ...options })
  ajvFormats.default(ajv)
  for (const shape of namedShapes()) ajv.addSchema(shape)
  return ajv
}

/** What is left of `most` after counting the values inside `value`; negative when there are more. */
function valuesLeft(value: unknown, most: number): number {
  let left = most - 1
  if (typeof value !== 'object' || value === null) return left
  for (const key in value) {
    if (left < 0) break
    left = valuesLeft((value as Record<string, unknown>)[key], left)
  }
  return left
}

function invalidRequest(part: FieldFault['in'], explained: ReturnType<Explainer['explain']>) {
  const errors = explained.map((fault) => ({ in: part, ...fault }))
  const { pointer, detail } = errors[0]!
  const more = errors.length > 1 ? ` (and ${errors.length - 1} more)` : ''
  return new RequestProblem('invalid-request', `${part} ${pointer} ${detail}${more}`, errors)
}

/**
 * Makes the checks of one way of reading values.
 *
 * A fault ends the first check. Only then, and only in a request of ordinary size, are all of them looked for: a list of
 * thousands of wrong items would make as many thousands of faults, each with all that it is about.
 */
function checks(coerceTypes: false | 'array') {
  const first = validator({ coerceTypes })
  const all = validator({ coerceTypes, allErrors: true })
  const explainer = new Explainer(all)
  return (schema: object, part: FieldFault['in']) => {
    const check = first.compile(schema)
    let checkAll: ValidateFunction | undefined
    return (data: unknown) => {
      if (check(data)) return true
      let faults = check.errors as ErrorObject[]
      if (valuesLeft(data, MOST_VALUES) >= 0) {
        checkAll ??= all.compile(schema)
        if (!checkAll(data)) faults = checkAll.errors as ErrorObject[]
      }
      return { error: invalidRequest(part, explainer.explain(faults)) }
    }
  }
}

const PARTS: Readonly<Record<string, FieldFault['in']>> = {
  querystring: 'query',
  params: 'path',
  headers: 'header',
}

/**
 * Validates bodies as they are and query strings by meaning: text in an address stands for a number, text in a
 * body does not.
 */
export function registerValidation(app: FastifyInstance): void {
  const asWritten = checks(false)
  const byMeaning = checks('array')
  for (const shape of namedShapes()) app.addSchema(shape)
  app.setValidatorCompiler(({ schema, httpPart = 'body' }) => {
    const part = PARTS[httpPart]
    return part === undefined ? asWritten(schema as object, 'body') : byMeaning(schema as object, part)
  })
  // A route that names no query parameters takes none: a misspelt one is an error, not silence.
  app.addHook('onRoute', (route) => {
    route.schema ??= {}
    route.schema.querystring ??= { type: 'object', additionalProperties: false, properties: {} }
  })
}
