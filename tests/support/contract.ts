import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { Ajv2020, type ValidateFunction } from 'ajv/dist/2020.js'
import ajvFormats from 'ajv-formats'

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

export interface Parameter {
  name: string
  in: string
  required?: boolean
  schema: Schema
  example?: unknown
  examples?: Record<string, { value: unknown }>
}

export interface OperationObject {
  operationId: string
  summary?: string
  description?: string
  tags?: string[]
  parameters?: Parameter[]
  requestBody?: { content: Record<string, Media> }
  responses: Record<string, { description?: string; content?: Record<string, Media> }>
}

export interface Operation {
  readonly method: 'GET' | 'POST' | 'PUT' | 'PATCH' | 'DELETE'
  readonly path: string
  readonly spec: OperationObject
}

export interface OpenApi {
  openapi: string
  paths: Record<string, Record<string, OperationObject>>
  components: { schemas: Record<string, Schema> }
}

export const OPENAPI_FILE = join(import.meta.dirname, '../../openapi/openapi.json')

export const readOpenApi = (): OpenApi => JSON.parse(readFileSync(OPENAPI_FILE, 'utf8'))

export function operations(document: OpenApi): Operation[] {
  return Object.entries(document.paths).flatMap(([path, item]) =>
    Object.entries(item).map(([method, spec]) => ({
      method: method.toUpperCase() as Operation['method'],
      path,
      spec,
    })),
  )
}

export function resolve(document: OpenApi, schema: Schema): Schema {
  if (schema.$ref === undefined) return schema
  const name = schema.$ref.replace('#/components/schemas/', '')
  return resolve(document, document.components.schemas[name]!)
}

export const jsonBody = (operation: Operation): Schema | undefined =>
  operation.spec.requestBody?.content['application/json']?.schema

/** The examples of an operation's request: of the media type or of the schema itself. */
export function requestExamples(document: OpenApi, operation: Operation): unknown[] {
  const media = operation.spec.requestBody?.content['application/json']
  if (media?.schema === undefined) return []
  const inMedia = [
    ...(media.example === undefined ? [] : [media.example]),
    ...Object.values(media.examples ?? {}).map(({ value }) => value),
  ]
  const inSchema = (resolve(document, media.schema).examples as unknown[] | undefined) ?? []
  return [...inMedia, ...inSchema]
}

export const parameterExamples = ({ example, examples }: Parameter): unknown[] => [
  ...(example === undefined ? [] : [example]),
  ...Object.values(examples ?? {}).map(({ value }) => value),
]

/** A validator of the document's shapes that shares nothing with the service's own. */
export function documentValidator(document: OpenApi) {
  const ajv = new Ajv2020({ strict: false, allErrors: true })
  ajvFormats.default(ajv)
  ajv.addSchema({ ...document, $id: 'openapi' })
  const compiled = new WeakMap<Schema, ValidateFunction>()
  return (schema: Schema, value: unknown): string[] => {
    const validate = compiled.get(schema) ?? ajv.compile(absolute(schema) as object)
    compiled.set(schema, validate)
    return validate(value)
      ? []
      : (validate.errors ?? []).map((error) => `${error.instancePath} ${error.message}`)
  }
}

/** References of a part of the document, made absolute so that the part can stand alone. */
function absolute(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(absolute)
  if (typeof value !== 'object' || value === null) return value
  return Object.fromEntries(
    Object.entries(value).map(([key, inner]) => [
      key,
      key === '$ref' && typeof inner === 'string' ? inner.replace(/^#/, 'openapi#') : absolute(inner),
    ]),
  )
}

/** The schema that the document gives for an answer. */
export function answerSchema(operation: Operation, status: number, mediaType: string): Schema | undefined {
  const response = operation.spec.responses[String(status)]
  return response?.content?.[mediaType.split(';')[0]!.trim()]?.schema
}
