import { resolved } from '../../src/reference/references.js'
import {
  faultsOf,
  isWellFormed,
  jsonBody,
  type Operation,
  type Parameter,
  readOpenApi,
  type Schema,
} from './contract.js'
import { type Mutation, mutations, neighbor } from './mutations.js'
import { patchedSchema, type Request } from './requests.js'

const document = readOpenApi()

/** A request with one invalid place. */
export interface InvalidRequest {
  readonly what: string
  /** Undefined where the changed request is valid after all. */
  readonly make: () => Request | undefined
  readonly in: 'body' | 'query' | 'header' | 'path'
  readonly at: readonly string[]
  readonly large: boolean
  /** Checked after the resource has been found: a request may be refused for another reason first. */
  readonly late: boolean
}

/** Texts that a parameter does not accept. */
function wrongTexts({ schema: given }: Parameter): string[] {
  const schema = resolved(document, given)
  const { minimum, maximum, minLength, maxLength } = schema as Record<string, number>
  if (Array.isArray(schema.enum)) return [`${schema.enum[0]}x`, '', ' ']
  switch (schema.type) {
    case 'integer':
      return ['x', '', ' ', '0x10', '1.5', '1e400', 'NaN', 'null', String(minimum! - 1), String(maximum! + 2)]
    case 'number':
      return [
        ...['x', '', ' ', '0x10', '1e400', '-Infinity', '1,5'],
        String(neighbor(minimum!, false)),
        String(neighbor(maximum!, true)),
      ]
    case 'boolean':
      return ['yes', '1', '', 'TRUE']
    default:
      return [
        ...(minLength === undefined ? [] : ['x'.repeat(minLength - 1)]),
        ...(maxLength === undefined ? [] : ['x'.repeat(maxLength + 1)]),
        ...(schema.pattern === undefined ? [] : ['\u0000', 'a\u2028b']),
      ].filter((text) => faultsOf(schema, text).length > 0)
  }
}

const WRONG_HEADERS: Readonly<Record<string, readonly string[]>> = {
  'if-match': ['x'.repeat(1001), 'nonsense', '"1', '1', ','],
  'if-none-match': ['x'.repeat(1001), 'nonsense', '"a" "b"'],
  'idempotency-key': ['x'.repeat(201), 'a b', 'é'],
}

function* invalidParameters({ spec }: Operation, request: Request): Generator<InvalidRequest> {
  const fault = { large: false, late: false }
  for (const parameter of spec.parameters ?? []) {
    const { name } = parameter
    const at = [`/${name}`]
    if (parameter.in === 'header') {
      for (const text of WRONG_HEADERS[name]!)
        yield {
          ...fault,
          late: text.length < 100,
          what: `${name}: ${text}`,
          make: () => ({ ...request, headers: { ...request.headers, [name]: text } }),
          in: 'header',
          at,
        }
    }
    if (parameter.in === 'query') {
      const wrong: unknown[] = [...wrongTexts(parameter), ['1', '2']]
      for (const text of wrong)
        yield {
          ...fault,
          what: `?${name}=${text}`,
          make: () => ({ ...request, query: { ...request.query, [name]: text } }),
          in: 'query',
          at,
        }
      if (parameter.required === true)
        yield { ...fault, what: `without ${name}`, make: () => ({ ...request, query: {} }), in: 'query', at }
    }
    if (parameter.in === 'path') {
      // A path segment cannot be empty, and the router accepts no longer one.
      for (const text of wrongTexts(parameter).filter((one) => one !== '' && one.length <= 200))
        yield {
          ...fault,
          what: `${name} ${text} in the path`,
          make: () => ({ ...request, path: { ...request.path, [name]: text } }),
          in: 'path',
          at,
        }
    }
  }
  for (const name of ['no-such-parameter', '__proto__', 'constructor', 'toString'])
    yield {
      ...fault,
      what: `?${name}=1`,
      make: () => ({
        ...request,
        query: Object.fromEntries([...Object.entries(request.query), [name, '1']]),
      }),
      in: 'query',
      at: [`/${name}`],
    }
}

/** Parts of a body that are validated one by one; their faults are reported in the answer to each. */
const VALIDATED_ONE_BY_ONE: Readonly<Record<string, RegExp>> = { checkVehicles: /^\/vehicles\// }

const inBody = (
  request: Request,
  schema: Schema,
  { what, make, at, large = false }: Mutation,
): InvalidRequest => ({
  what,
  make: () => {
    const body = make()
    return isWellFormed(schema, body) ? undefined : { ...request, body }
  },
  in: 'body',
  at,
  large,
  late: false,
})

/** Invalid merge patches of one field that is replaced whole: the schema of the field then applies to the value of the patch. */
function* invalidPatches(request: Request, whole: Schema): Generator<InvalidRequest> {
  for (const [key, value] of Object.entries(request.body as object)) {
    const schema = resolved(document, whole).properties?.[key]
    if (schema === undefined || value === null || (typeof value === 'object' && !Array.isArray(value)))
      continue
    for (const mutation of mutations(document, schema, value, undefined, `/${key}`)) {
      yield {
        ...inBody(request, schema, mutation),
        late: true,
        make: () => {
          const changed = mutation.make()
          // null removes the field; an object is merged into the stored one.
          const isReplacement = changed !== null && (typeof changed !== 'object' || Array.isArray(changed))
          return isReplacement && !isWellFormed(schema, changed)
            ? { ...request, body: { [key]: changed } }
            : undefined
        },
      }
    }
  }
}

/** Invalid requests: a valid one, changed in one place, for every place and every keyword of its schema. */
export function* invalidRequests(operation: Operation, request: Request): Generator<InvalidRequest> {
  yield* invalidParameters(operation, request)
  if (request.body === undefined || typeof request.body === 'string') return
  const whole = patchedSchema(operation)
  if (whole !== undefined) yield* invalidPatches(request, whole)
  else {
    const schema = jsonBody(operation)!
    const oneByOne = VALIDATED_ONE_BY_ONE[operation.spec.operationId]
    for (const mutation of mutations(document, schema, request.body))
      if (!mutation.at.some((pointer) => oneByOne?.test(pointer))) yield inBody(request, schema, mutation)
  }
}
