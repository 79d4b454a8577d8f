import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { Ajv2020, type ValidateFunction } from 'ajv/dist/2020.js'
import ajvFormats from 'ajv-formats'
import { type Referable, resolved, wholeOperation } from '../../src/reference/references.js'

export type Schema = Record<string, unknown> & {
  $ref?: string
  type?: string
  properties?: Record<string, Schema>
}

interface Media {
  schema?: Schema
  example?: unknown
  examples?: Record<string, { value: unknown }>
}

export interface Parameter extends Referable {
  name: string
  in: string
  required?: boolean
  schema: Schema
  example?: unknown
  examples?: Record<string, { value: unknown }>
}

interface Header extends Referable {
  required?: boolean
  schema?: Schema
}

export interface ResponseObject extends Referable {
  description?: string
  headers?: Record<string, Header>
  content?: Record<string, Media>
}

export interface OperationObject {
  operationId: string
  summary?: string
  description?: string
  tags?: string[]
  parameters?: Parameter[]
  requestBody?: { content: Record<string, Media> }
  responses: Record<string, ResponseObject>
  security?: unknown
}

export interface Operation {
  readonly method: 'GET' | 'POST' | 'PUT' | 'PATCH' | 'DELETE'
  readonly path: string
  readonly spec: OperationObject
}

export interface OpenApi {
  openapi: string
  paths: Record<string, Record<string, OperationObject>>
  components: { schemas: Record<string, Schema>; headers: Record<string, Header> }
}

export const OPENAPI_FILE = join(import.meta.dirname, '../../openapi/openapi.json')

let read: OpenApi | undefined

/** The document as it is published; one object for all that read it. */
export function readOpenApi(): OpenApi {
  read ??= JSON.parse(readFileSync(OPENAPI_FILE, 'utf8')) as OpenApi
  return read
}

export function operations(document: OpenApi): Operation[] {
  return Object.entries(document.paths).flatMap(([path, item]) =>
    Object.entries(item).map(([method, spec]) => ({
      method: method.toUpperCase() as Operation['method'],
      path,
      spec: wholeOperation(document, spec),
    })),
  )
}

let byId: ReadonlyMap<string, Operation> | undefined

/** An operation of the published document by its id. */
export function operationOf(operationId: string): Operation {
  byId ??= new Map(operations(readOpenApi()).map((operation) => [operation.spec.operationId, operation]))
  const found = byId.get(operationId)
  if (found === undefined) throw new Error(`no operation ${operationId}`)
  return found
}

/** What the document says of a header of an answer. */
export function headerSchema(document: OpenApi, header: Header): Schema {
  const { schema } = resolved(document, header)
  if (schema === undefined) throw new Error('a header of the document has no schema')
  return schema
}

/** The branch of a union that a value follows; the schema itself where it is no union. */
export function branchTaking(document: OpenApi, given: Schema, value: unknown): Schema {
  const schema = resolved(document, given)
  if (!Array.isArray(schema.anyOf)) return schema
  const branch = (schema.anyOf as Schema[]).find((one) => validatorOf(one)(value))
  if (branch === undefined) throw new Error(`no branch takes ${JSON.stringify(value).slice(0, 200)}`)
  return branchTaking(document, branch, value)
}

/** The media type of an operation's request; undefined where it takes no body. */
export const requestType = ({ spec }: Operation): string | undefined =>
  Object.keys(spec.requestBody?.content ?? {})[0]

/** Whether a body of a media type is one value of JSON. */
export const isJson = (mediaType = ''): boolean => /[/+]json$/.test(mediaType)

/** The schema of an operation's request, or of each line of it. */
export const bodySchema = ({ spec }: Operation): Schema | undefined =>
  Object.values(spec.requestBody?.content ?? {})[0]?.schema

/** The same of a body in JSON; that of a merge patch, too. */
export const jsonBody = (operation: Operation): Schema | undefined =>
  isJson(requestType(operation)) ? bodySchema(operation) : undefined

/** The examples of an operation's request, in its schema; the one beside the media type goes with a stored item or repeats one of these. */
export function requestExamples(document: OpenApi, operation: Operation): unknown[] {
  const { schema, example, examples } = Object.values(operation.spec.requestBody?.content ?? {})[0] ?? {}
  if (schema === undefined) return []
  return (
    (resolved(document, schema).examples as unknown[] | undefined) ?? [example ?? examples?.smallest?.value]
  )
}

export const parameterExamples = ({ example, examples }: Parameter): unknown[] => [
  ...(example === undefined ? [] : [example]),
  ...Object.values(examples ?? {}).map(({ value }) => value),
]

const TEXTS: Readonly<Record<string, RegExp>> = {
  line: /^(?=.*\S)[^\p{Cc}\p{Cs}\u2028\u2029]*$/u,
  lines: /^(?=[\s\S]*\S)(?:[^\p{Cc}\p{Cs}]|[\t\n\r])*$/u,
}

/** Whether a text is one that the rule `x-text` takes: not blank, without control characters and lone surrogates. */
export const isText = (rule: string, text: string): boolean => TEXTS[rule]!.test(text)

let ajv: Ajv2020 | undefined
const compiled = new WeakMap<Schema, ValidateFunction>()

/** Each part of the document under its own name: one that is found inside another is compiled anew for every schema that names it. */
function ajvOfDocument(): Ajv2020 {
  if (ajv === undefined) {
    ajv = new Ajv2020({ strict: false, allErrors: true })
    ajv.addKeyword({
      keyword: 'x-plus-minus-below',
      type: 'object',
      validate: (key: string, { plusMinus, [key]: value }: Record<string, unknown>) =>
        plusMinus === undefined || Number(plusMinus) < Number(value),
    })
    ajv.addKeyword({
      keyword: 'x-extensible-enum',
      validate: (known: string[], value: unknown) => known.includes(String(value)),
    })
    ajv.addKeyword({ keyword: 'x-text', type: 'string', validate: isText })
    ajvFormats.default(ajv)
    for (const [name, schema] of Object.entries(readOpenApi().components.schemas))
      ajv.addSchema(byName(schema) as object, name)
  }
  return ajv
}

/** The check of a schema, compiled once: that of a reference is that of what it names. */
function validatorOf(schema: Schema): ValidateFunction {
  const known = compiled.get(schema)
  if (known !== undefined) return known
  const named = byName(schema) as Schema
  const validate =
    named.$ref === undefined ? ajvOfDocument().compile(named) : ajvOfDocument().getSchema(named.$ref)
  if (validate === undefined) throw new Error(`no schema ${schema.$ref}`)
  compiled.set(schema, validate)
  return validate
}

const errorsOf = (schema: Schema, value: unknown) => {
  const validate = validatorOf(schema)
  return validate(value) ? [] : (validate.errors ?? [])
}

/** What is wrong with a value by a schema of the document; shares nothing with the service's own checks. */
export const faultsOf = (schema: Schema, value: unknown): string[] =>
  errorsOf(schema, value).map((error) => `${error.instancePath} ${error.message}`)

/** Whether each field by itself is as its schema says. Fields that need or exclude each other are a matter of 422, as the service answers them. */
export const isWellFormed = (schema: Schema, value: unknown): boolean =>
  errorsOf(schema, value).every(
    ({ keyword, schemaPath }) =>
      keyword === 'dependentRequired' ||
      keyword === 'oneOf' ||
      /\/(dependentSchemas|oneOf)\//.test(schemaPath),
  )

/**
 * A part of the document that names other parts as the checks know them. Answers are open in the document, for clients; today's service
 * gives no field and no value that the document does not name.
 */
function byName(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(byName)
  if (typeof value !== 'object' || value === null) return value
  const closed = (value as Schema).type === 'object' ? { additionalProperties: false, ...value } : value
  return Object.fromEntries(
    Object.entries(closed).map(([key, inner]) => [
      key,
      key === '$ref' && typeof inner === 'string'
        ? inner.replace(/^#\/components\/schemas\//, '')
        : byName(inner),
    ]),
  )
}
