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
import { type FieldFault, RequestProblem } from '../http/request-problem.js'
import { PLUS_MINUS_BELOW } from '../schemas/measure-shapes.js'
import { namedShapes, shapesIn } from '../schemas/named-shapes.js'
import { followsRule, TEXT_RULE } from '../schemas/texts.js'
import type { LazyCompile } from './lazy-compile.js'
import { ValidationMessages } from './validation-messages.js'

/** Whether an uncertainty is less than its value; true for a value below the minimum, which is reported anyway. */
function uncertaintyIsBelow(
  key: string,
  measure: Readonly<Record<string, unknown>>,
  branch?: AnySchemaObject,
): boolean {
  const { plusMinus, [key]: value } = measure
  if (typeof plusMinus !== 'number' || typeof value !== 'number') return true
  return plusMinus < value || value < branch?.properties[key].minimum
}

/** Keywords of the contract that are not part of JSON Schema, or that the validator ignores. */
const CONTRACT_KEYWORDS: Vocabulary = [
  'x-unit',
  'x-dimensionless',
  // Checked in codec/fields.ts, with problems of their own.
  'dependentRequired',
  'dependentSchemas',
  'oneOf',
  {
    keyword: PLUS_MINUS_BELOW,
    type: 'object',
    schemaType: 'string',
    validate: uncertaintyIsBelow,
  },
  { keyword: TEXT_RULE, type: 'string', schemaType: 'string', validate: followsRule },
]

/** Number of values in a request up to which all faults are reported; in a larger one only the first. */
const MAX_VALUES = 2000

/** Characters of a string that count as one value: patterns run out of stack on a string of eight million. */
const CHARACTERS_A_VALUE = 1024

const OPTIONS: Options = {
  removeAdditional: false,
  useDefaults: true,
  strictTypes: false,
}

/** Compiles schemas. Created with the first schema; a named schema is added when one first refers to it. */
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

/** `max` minus the number of values inside `value`; negative if there are more. */
function valuesLeft(value: unknown, max: number): number {
  let left = max - 1
  if (typeof value === 'string') return left - Math.floor(value.length / CHARACTERS_A_VALUE)
  if (typeof value !== 'object' || value === null) return left
  for (const key in value) {
    if (left < 0) break
    left = valuesLeft((value as Record<string, unknown>)[key], left)
  }
  return left
}

function invalidRequest(part: FieldFault['in'], faults: ReturnType<ValidationMessages['faultsOf']>) {
  const errors = faults.map((fault) => ({ in: part, ...fault }))
  const { pointer, detail } = errors[0]!
  const more = errors.length > 1 ? ` (and ${errors.length - 1} more)` : ''
  return new RequestProblem('invalid-request', `${part} ${pointer}: ${detail}${more}`, errors)
}

/** Makes the check of a part of a request by its schema. */
export type CheckOf = (
  schema: object,
  part: FieldFault['in'],
) => (data: unknown) => true | { readonly error: RequestProblem }

/**
 * Makes the checks of schemas.
 *
 * A request is first checked without messages: describing every branch of a union that does not match would cost more than the
 * computation. Only an invalid request is validated again, for all faults if it is of ordinary size: a list of thousands of invalid
 * items would produce thousands of verbose errors.
 */
export function schemaChecks(lazyCompile: LazyCompile): CheckOf {
  // The second and third compiler validate the schemas themselves, at the latest in the tests.
  const quick = new Compiler({ messages: false, validateSchema: false })
  const first = new Compiler({ verbose: true })
  const all = new Compiler({ verbose: true, allErrors: true })
  /** The compiler that reports as many faults as the size of the request allows. */
  const describer = (data: unknown) => (valuesLeft(data, MAX_VALUES) >= 0 ? all : first)
  const errorsOf = (branch: object, data: unknown) => {
    const validate = describer(data).compile(branch)
    validate(data)
    return validate.errors ?? []
  }
  return (schema: object, part: FieldFault['in']) => {
    const check = lazyCompile(() => quick.compile(schema))
    const describe = lazyCompile(() => {
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
      return {
        error: invalidRequest(part, new ValidationMessages(all.ajv, errorsOf).faultsOf(describe(data))),
      }
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
 * Converts text in a URL or header by its schema. Other text stays unchanged and is refused: the coercion of the validator would accept
 * 0x10 as 16, a blank as 0, and Infinity beyond every bound.
 */
function converted(schema: Schema | undefined, text: unknown): unknown {
  if (schema?.type === 'array') return [text].flat().map((item) => converted(schema.items, item))
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

/** Converts all texts in place. */
function convertTexts(schema: Schema, texts: Record<string, unknown>): void {
  for (const [key, inner] of Object.entries(schema.properties ?? {})) {
    if (texts[key] !== undefined) texts[key] = converted(inner, texts[key])
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
      convertTexts(schema as Schema, texts)
      return check(texts)
    }
  }
  // Set on each route: a compiler set on the application would copy the list of named schemas for each route.
  app.addHook('onRoute', (route) => {
    route.validatorCompiler ??= compile
  })
  // Without a body, the framework skips the validation of a route that names its media type (`body.content`).
  app.addHook('onRoute', (route) => {
    const { content } = (route.schema?.body ?? {}) as { content?: Readonly<Record<string, unknown>> }
    if (content === undefined) return
    const detail = `The request has no body; send ${Object.keys(content)[0]}.`
    route.preValidation = [
      (request, _reply, done) =>
        done(request.body === undefined ? new RequestProblem('unsupported-media-type', detail) : undefined),
      ...[route.preValidation ?? []].flat(),
    ]
  })
  // A route without query parameters refuses all: a misspelt parameter must not be ignored.
  app.addHook('onRoute', (route) => {
    route.schema ??= {}
    route.schema.querystring ??= { type: 'object', additionalProperties: false, properties: {} }
  })
}
