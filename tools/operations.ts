import { type Referable, resolved, wholeOperation } from '../src/reference/references.js'

/** The parts of the OpenAPI document that the pages use. */
export interface Schema {
  $ref?: string
  type?: string
  description?: string
  properties?: Record<string, Schema>
  items?: Schema
  anyOf?: Schema[]
  minimum?: number
  maximum?: number
  exclusiveMinimum?: number
  minItems?: number
  maxItems?: number
  maxLength?: number
  enum?: unknown[]
  default?: unknown
  examples?: unknown[]
  required?: string[]
  'x-unit'?: string
}

export interface Media {
  schema?: Schema
  example?: unknown
  examples?: Record<string, { value: unknown }>
}

export interface Parameter extends Referable {
  name: string
  in: string
  required?: boolean
  example?: unknown
  examples?: Record<string, { value: unknown }>
  schema: Schema
}

export interface OperationSpec {
  operationId: string
  summary: string
  description: string
  tags: string[]
  security?: unknown
  parameters?: Parameter[]
  requestBody?: { content: Record<string, Media> }
  responses: Record<string, Referable & { content?: Record<string, Media> }>
}

export interface OpenApiDocument {
  paths: Record<string, Record<string, OperationSpec>>
  components: {
    schemas: Record<string, Schema>
    responses?: Record<string, { content?: Record<string, Media> }>
  }
}

export interface Operation {
  readonly method: 'GET' | 'POST' | 'PUT' | 'PATCH' | 'DELETE'
  readonly path: string
  readonly spec: OperationSpec
  readonly document: OpenApiDocument
}

export function operationsOf(document: OpenApiDocument): Operation[] {
  return Object.entries(document.paths).flatMap(([path, item]) =>
    Object.entries(item).map(([method, spec]) => ({
      method: method.toUpperCase() as Operation['method'],
      path,
      spec: wholeOperation(document, spec),
      document,
    })),
  )
}

/** Longest body shown in a page, if a shorter example exists [characters]. */
const LONG_BODY = 700

const examplesOf = ({ example, examples }: Media | Parameter): unknown[] => [
  ...(example === undefined ? [] : [example]),
  ...Object.values(examples ?? {}).map(({ value }) => value),
]

export const parameterExample = (parameter: Parameter): unknown => examplesOf(parameter)[0]

/** All example bodies of a media type. */
export function bodyExamples(media: Media, document: OpenApiDocument): unknown[] {
  const schema = media.schema === undefined ? {} : resolved(document, media.schema)
  return [...examplesOf(media), ...(schema.examples ?? [])]
}

/** The example body for a page: the first that is not too long, otherwise the shortest. */
export function bodyExample(media: Media, document: OpenApiDocument): unknown {
  const examples = bodyExamples(media, document)
  const length = (example: unknown) => JSON.stringify(example).length
  const shown =
    examples.find((example) => length(example) <= LONG_BODY) ??
    examples.sort((a, b) => length(a) - length(b))[0]
  if (shown === undefined) throw new Error('a request body without an example')
  return shown
}
