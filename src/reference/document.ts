import { type Referable, wholeOperation } from './references.js'

/** The parts of the OpenAPI document that the pages show. */
export interface Schema extends Referable {
  readonly title?: string
  readonly type?: string
  readonly description?: string
  readonly properties?: Readonly<Record<string, Schema>>
  readonly required?: readonly string[]
  readonly items?: Schema
  readonly anyOf?: readonly Schema[]
  readonly oneOf?: readonly Schema[]
  readonly enum?: readonly unknown[]
  readonly const?: unknown
  readonly minimum?: number
  readonly maximum?: number
  readonly exclusiveMinimum?: number
  readonly exclusiveMaximum?: number
  readonly minItems?: number
  readonly maxItems?: number
  readonly uniqueItems?: boolean
  readonly minLength?: number
  readonly maxLength?: number
  readonly pattern?: string
  readonly format?: string
  readonly default?: unknown
  readonly examples?: readonly unknown[]
  readonly dependentRequired?: Readonly<Record<string, readonly string[]>>
}

interface Illustrated {
  readonly schema?: Schema
  readonly example?: unknown
  readonly examples?: Readonly<Record<string, { readonly summary?: string; readonly value?: unknown }>>
}

export interface Media extends Illustrated {}

export interface Parameter extends Referable, Illustrated {
  readonly name: string
  readonly in: string
  readonly required?: boolean
  readonly description?: string
}

export interface Header extends Referable {
  readonly description?: string
  readonly schema?: Schema
}

export interface Answer extends Referable {
  readonly description?: string
  readonly headers?: Readonly<Record<string, Header>>
  readonly content?: Readonly<Record<string, Media>>
}

interface Operation {
  readonly operationId: string
  readonly summary: string
  readonly description: string
  readonly tags: readonly string[]
  readonly security?: unknown
  readonly 'x-rate-weight'?: number
  parameters?: Parameter[]
  readonly requestBody?: { readonly content: Readonly<Record<string, Media>> }
  responses: Record<string, Answer>
}

export interface Document {
  readonly info: { readonly description: string }
  readonly tags: ReadonlyArray<{ readonly name: string; readonly description: string }>
  readonly paths: Readonly<Record<string, Readonly<Record<string, Operation>>>>
  readonly components: { readonly schemas: Readonly<Record<string, Schema>> }
}

/** An operation with its place, and its parameters and answers in place of references to them. */
export interface PlacedOperation extends Operation {
  readonly method: string
  readonly path: string
}

export const operationsOf = (document: Document): PlacedOperation[] =>
  Object.entries(document.paths).flatMap(([path, item]) =>
    Object.entries(item).map(([method, operation]) => ({
      ...wholeOperation(document, operation),
      method: method.toUpperCase(),
      path,
    })),
  )

/** Examples of a body or a parameter: its own before those of its schema. */
export const examplesOf = ({ example, examples, schema }: Illustrated, document: Document): unknown[] => [
  ...(example === undefined ? [] : [example]),
  ...Object.values(examples ?? {}).map(({ value }) => value),
  ...(schema?.examples ?? []),
  ...(schema?.$ref === undefined ? [] : (document.components.schemas[nameOf(schema.$ref)]?.examples ?? [])),
]

/** The last part of a reference: the name of the component. */
export const nameOf = ($ref: string): string => $ref.slice($ref.lastIndexOf('/') + 1)
