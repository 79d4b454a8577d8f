import { Ajv, type Options } from 'ajv'
import ajvFormats from 'ajv-formats'
import type { FastifyInstance } from 'fastify'
import { namedShapes } from '../schemas/measures.js'
import { Explainer } from './explain.js'

/** Words of the contract that are not JSON Schema: units for people and programs. */
export const CONTRACT_KEYWORDS = ['x-unit', 'x-dimensionless']

const OPTIONS: Options = {
  allErrors: true,
  verbose: true,
  removeAdditional: false,
  useDefaults: true,
  strictTypes: false,
  keywords: CONTRACT_KEYWORDS,
}

function validator(coerceTypes: false | 'array'): Ajv {
  const ajv = new Ajv({ ...OPTIONS, coerceTypes })
  ajvFormats.default(ajv)
  for (const shape of namedShapes()) ajv.addSchema(shape)
  return ajv
}

/**
 * Validates bodies as they are and query strings by meaning: text in an address stands for a number, text in a
 * body does not.
 *
 * @returns The explainer of body faults
 */
export function registerValidation(app: FastifyInstance): Explainer {
  const bodies = validator(false)
  const texts = validator('array')
  for (const shape of namedShapes()) app.addSchema(shape)
  app.setValidatorCompiler(({ schema, httpPart }) =>
    (httpPart === 'body' ? bodies : texts).compile(schema as object),
  )
  // A route that names no query parameters takes none: a misspelt one is an error, not silence.
  app.addHook('onRoute', (route) => {
    route.schema ??= {}
    route.schema.querystring ??= { type: 'object', additionalProperties: false, properties: {} }
  })
  return new Explainer(bodies)
}
