interface SchemaInMaking {
  $ref?: string
  type?: string
  enum?: string[]
  description?: string
  additionalProperties?: boolean
}

type Schemas = Record<string, SchemaInMaking>

interface OperationParts {
  parameters?: unknown
  requestBody?: unknown
  responses?: object
}

const COMPONENT = '#/components/schemas/'

/** Fields of answers whose values are ids of a list that may grow; every other list of an answer is complete. */
const GROWING: ReadonlySet<string> = new Set([
  'action',
  'basis',
  'causes',
  'code',
  'criterion',
  'dimension',
  'evidence',
  'fault',
  'kind',
  'limit',
  'method',
  'mode',
  'name',
  'notCompared',
  'points',
  'priorStanding',
  'reason',
  'standing',
])

/** Longest list whose values the description names as well. */
const MAX_NAMED = 20

/** Adds the names of the components that a value refers to, directly or through others. */
function addReached(value: unknown, schemas: Schemas, reached: Set<string>): void {
  if (typeof value !== 'object' || value === null) return
  for (const inner of Object.values(value)) addReached(inner, schemas, reached)
  const { $ref } = value as { $ref?: unknown }
  const name = typeof $ref === 'string' ? $ref.slice(COMPONENT.length) : undefined
  if (name === undefined || reached.has(name)) return
  reached.add(name)
  addReached(schemas[name], schemas, reached)
}

/** Makes a list of values a text with the values known so far. */
function openList(schema: SchemaInMaking, values: readonly string[]): void {
  const known = values.length <= MAX_NAMED ? `, known so far: ${values.join(', ')}` : ''
  delete schema.enum
  Object.assign(schema, {
    type: 'string',
    'x-extensible-enum': values,
    description: `${schema.description} The list may grow${known}.`,
  })
}

/**
 * Opens the answers of the document: an object may gain fields, and a list of ids may gain values, without a client having to be made
 * anew. What a request uses stays closed, also where an answer repeats it as it was sent; the shapes in the code are closed.
 *
 * @see Zalando RESTful API Guidelines, 111 (open for extension) and 112 (`x-extensible-enum`)
 */
export function openAnswers(operations: readonly OperationParts[], schemas: Schemas): void {
  const requested = new Set<string>()
  for (const { parameters, requestBody } of operations)
    addReached([parameters, requestBody], schemas, requested)
  const open = (value: unknown, name: string): void => {
    if (typeof value !== 'object' || value === null) return
    const schema = value as SchemaInMaking
    if (schema.type === 'object') delete schema.additionalProperties
    if (schema.enum !== undefined && GROWING.has(name)) openList(schema, schema.enum)
    const target = schema.$ref?.slice(COMPONENT.length) ?? ''
    const listed = requested.has(target) ? schemas[target]?.enum : undefined
    if (listed !== undefined) {
      delete schema.$ref
      openList(schema, listed)
    }
    for (const [key, inner] of Object.entries(value)) open(inner, key === 'items' ? name : key)
  }
  for (const { responses } of operations) open(responses, '')
  for (const [name, schema] of Object.entries(schemas)) {
    if (requested.has(name)) continue
    open(schema, '')
    if (schema.enum !== undefined) openList(schema, schema.enum)
  }
}
