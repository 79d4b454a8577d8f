import {
  Ajv,
  type AnySchemaObject,
  type ErrorObject,
  type Options,
  type ValidateFunction,
  type Vocabulary,
} from 'ajv'
import ajvFormats from 'ajv-formats'
import type { FastifyInstance, FastifySchemaCompiler } from 'fastify'
import { type FieldFault, RequestProblem } from '../border/request-problem.js'
import { namedShapes, PLUS_MINUS_BELOW, shapesIn } from '../schemas/measures.js'
import { Explainer } from './explain.js'
import type { AtFirstUse } from './first-use.js'

/** Whether an uncertainty is less than its value; of a value that is none of the quantity nothing more is said. */
function uncertaintyIsBelow(
  key: string,
  measure: Readonly<Record<string, unknown>>,
  branch?: AnySchemaObject,
): boolean {
  const { plusMinus, [key]: value } = measure
  if (typeof plusMinus !== 'number' || typeof value !== 'number') return true
  return plusMinus < value || value < branch?.properties[key].minimum
}

/** Words of the contract that the validator does not know, or leaves alone: units for people and programs, and what compares two fields. */
const CONTRACT_KEYWORDS: Vocabulary = [
  'x-unit',
  'x-dimensionless',
  // Checked with the request at hand, with a problem of its own: border/fields.ts.
  'dependentRequired',
  'dependentSchemas',
  'oneOf',
  {
    keyword: PLUS_MINUS_BELOW,
    type: 'object',
    schemaType: 'string',
    validate: uncertaintyIsBelow,
  },
]

/** Values in a request up to which every fault is looked for; in a larger one only the first is. */
const MAX_VALUES = 2000

/** Characters of a text that count for one value more: patterns run out of stack on a text of eight million. */
const CHARACTERS_A_VALUE = 1024

const OPTIONS: Options = {
  removeAdditional: false,
  useDefaults: true,
  strictTypes: false,
}

/** Compiles schemas; it is made with the first one, and told of a named shape when a schema first refers to it. */
class Compiler {
  private made: Ajv | undefined
  private readonly options: Options

  constructor(options: Options) {
    this.options = { ...OPTIONS, ...options }
  }

  get ajv(): Ajv {
    this.made ??= ajvFormats.default(
      new Ajv(this.options).removeKeyword('oneOf').addVocabulary(CONTRACT_KEYWORDS),
    )
    return this.made
  }

  compile(schema: object): ValidateFunction {
    for (const shape of shapesIn(schema))
      if (this.ajv.schemas[shape.$id] === undefined) this.ajv.addSchema(shape)
    return this.ajv.compile(schema)
  }
}

/** What is left of `most` after counting the values inside `value`; negative when there are more. */
function valuesLeft(value: unknown, most: number): number {
  let left = most - 1
  if (typeof value === 'string') return left - Math.floor(value.length / CHARACTERS_A_VALUE)
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

/** Makes the check of a part of requests by its schema. */
export type CheckOf = (
  schema: object,
  part: FieldFault['in'],
) => (data: unknown) => true | { readonly error: RequestProblem }

/**
 * Makes the checks of schemas.
 *
 * A good request is checked without a word: every branch of a union that does not fit would otherwise be described, which costs
 * more than the computation. Only a request that fails is looked at again, for all of its faults when it is of ordinary size:
 * a list of thousands of wrong items would make as many thousands of faults, each with all that it is about.
 */
export function schemaChecks(atFirstUse: AtFirstUse): CheckOf {
  // Whether the schemas themselves are sound is looked at by the second and third, at the latest by the tests.
  const quick = new Compiler({ messages: false, validateSchema: false })
  const first = new Compiler({ verbose: true })
  const all = new Compiler({ verbose: true, allErrors: true })
  /** What looks for as many faults as there is room for in an answer. */
  const describer = (data: unknown) => (valuesLeft(data, MAX_VALUES) >= 0 ? all : first)
  const errorsOf = (branch: object, data: unknown) => {
    const validate = describer(data).compile(branch)
    validate(data)
    return validate.errors ?? []
  }
  return (schema: object, part: FieldFault['in']) => {
    const check = atFirstUse(() => quick.compile(schema))
    const describe = atFirstUse(() => {
      const describeFirst = first.compile(schema)
      const describeAll = all.compile(schema)
      return (data: unknown) => {
        const described = describer(data) === all ? describeAll : describeFirst
        described(data)
        return described.errors as ErrorObject[]
      }
    })
    return (data: unknown) => {
      if (check(data)) return true
      return { error: invalidRequest(part, new Explainer(all.ajv, errorsOf).explain(describe(data))) }
    }
  }
}

const PARTS: Readonly<Record<string, FieldFault['in']>> = {
  querystring: 'query',
  params: 'path',
  headers: 'header',
}

const DECIMAL = /^-?\d+(\.\d+)?(e[+-]?\d+)?$/i

/**
 * What text in an address stands for by its schema. Text that stands for nothing stays text, and is refused as that:
 * the validator's own coercion would take 0x10 for 16, a blank for 0, and Infinity past every bound.
 */
function meaning(schema: Schema | undefined, text: unknown): unknown {
  if (schema?.type === 'array') return [text].flat().map((item) => meaning(schema.items, item))
  if (typeof text !== 'string') return text
  const isNumber = schema?.type === 'number' || schema?.type === 'integer'
  if (isNumber && DECIMAL.test(text) && Number.isFinite(Number(text))) return Number(text)
  if (schema?.type === 'boolean' && (text === 'true' || text === 'false')) return text === 'true'
  return text
}

interface Schema {
  readonly type?: string
  readonly items?: Schema
  readonly properties?: Readonly<Record<string, Schema>>
}

/** Gives every text its meaning, in place. */
function readTexts(schema: Schema, texts: Record<string, unknown>): void {
  for (const [key, inner] of Object.entries(schema.properties ?? {})) {
    if (texts[key] !== undefined) texts[key] = meaning(inner, texts[key])
  }
}

/**
 * Validates bodies as they are and query strings by meaning: text in an address stands for a number, text in a
 * body does not.
 */
export function registerValidation(app: FastifyInstance, checkOf: CheckOf): void {
  for (const shape of namedShapes()) app.addSchema(shape)
  const compile: FastifySchemaCompiler<unknown> = ({ schema, httpPart = 'body' }) => {
    const part = PARTS[httpPart]
    if (part === undefined) return checkOf(schema as object, 'body')
    const check = checkOf(schema as object, part)
    return (texts: Record<string, unknown>) => {
      readTexts(schema as Schema, texts)
      return check(texts)
    }
  }
  // Of the route, not of the application: that would copy the list of named shapes for each route.
  app.addHook('onRoute', (route) => {
    route.validatorCompiler ??= compile
  })
  // The framework looks at a body of several media types only when there is one.
  app.addHook('onRoute', (route) => {
    const { content } = (route.schema?.body ?? {}) as { content?: Readonly<Record<string, unknown>> }
    if (content === undefined) return
    const detail = `The request has no body; send ${Object.keys(content).join(' or ')}.`
    route.preValidation = [
      (request, _reply, done) =>
        done(request.body === undefined ? new RequestProblem('unsupported-media-type', detail) : undefined),
      ...[route.preValidation ?? []].flat(),
    ]
  })
  // A route that names no query parameters takes none: a misspelt one is an error, not silence.
  app.addHook('onRoute', (route) => {
    route.schema ??= {}
    route.schema.querystring ??= { type: 'object', additionalProperties: false, properties: {} }
  })
}
