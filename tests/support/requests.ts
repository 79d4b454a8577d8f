import fc from 'fast-check'
import type { Answer, Client } from './app.js'
import { arbitraryLike, arbitraryOf, type Known } from './arbitrary.js'
import {
  isJson,
  jsonBody,
  type Operation,
  parameterExamples,
  readOpenApi,
  requestExamples,
  requestType,
  type Schema,
} from './contract.js'
import { anyGpx, anyLines, anyLog, anyTable } from './texts.js'
import {
  anotherReference,
  anotherSize,
  KINDS,
  type Kind,
  kindOf,
  NO_ID,
  type Params,
  type World,
} from './world.js'

const document = readOpenApi()

/** One request of an operation, in its parts. */
export interface Request {
  readonly path: Params
  readonly query: Readonly<Record<string, unknown>>
  readonly headers: Readonly<Record<string, string>>
  readonly body?: unknown
}

/** Path parameters of stored resources, for requests to use. */
export type Stored = Readonly<Record<Kind, readonly Params[]>>

export async function storeSome(world: World): Promise<Stored> {
  const stored = {} as Record<Kind, Params[]>
  for (const kind of KINDS) stored[kind] = [await world.create(kind), await world.create(kind)]
  // Vehicles with an accepted calibration.
  return {
    ...stored,
    vehicles: [...stored.calibrations.map((ids) => ({ ...ids, version: '1' })), ...stored.vehicles],
  }
}

export function urlOf({ path }: Operation, request: Pick<Request, 'path' | 'query'>): string {
  const address = path.replaceAll(/\{(\w+)\}/g, (_, name: string) => encodeURIComponent(request.path[name]!))
  const query = Object.entries(request.query).flatMap(([name, values]) =>
    [values].flat().map((value) => `${encodeURIComponent(name)}=${encodeURIComponent(String(value))}`),
  )
  return query.length === 0 ? address : `${address}?${query.join('&')}`
}

export function send(client: Client, operation: Operation, request: Request): Promise<Answer> {
  const { body, headers } = request
  // A body of another media type is sent unchanged; in JSON, text is a value like any other.
  const payload = isJson(headers['content-type']) ? JSON.stringify(body) : body
  return client(operation.method, urlOf(operation, request), payload, headers)
}

/** Schema of the resource that a merge patch changes: the schema of the patch does not restrict its fields. */
const PATCHED: Readonly<Record<string, string>> = { VehiclePatch: 'VehicleProfile', PartPatch: 'PartInput' }

/** Schema of the resource that the merge patch of an operation changes; undefined if the operation takes no patch. */
export function patchedSchema(operation: Operation): Schema | undefined {
  const name = jsonBody(operation)?.$ref?.split('/').at(-1) ?? ''
  return PATCHED[name] === undefined ? undefined : document.components.schemas[PATCHED[name]]
}

/** Values that the document cannot tell: ids of stored resources, names in use, unique names. */
function knownTo({ spec }: Operation, stored: Stored): Known {
  const parts = stored.parts.map(({ id }) => id)
  if (spec.operationId === 'createFit') return { part: parts, otherPart: parts }
  if (/Calibration$/.test(spec.operationId)) return { path: ['speedometer'] }
  if (/TireSize$/.test(spec.operationId))
    return { size: Array.from({ length: 50 }, anotherSize), construction: ['radial'] }
  if (/Vehicle/.test(spec.operationId)) return { reference: Array.from({ length: 50 }, anotherReference) }
  return {}
}

function anyPatch(schema: Schema, known: Known): fc.Arbitrary<unknown> {
  const fields = Object.entries(schema.properties ?? {}).map(([key, inner]) =>
    fc
      .oneof(
        { weight: 4, arbitrary: arbitraryOf(document, inner, known) },
        { weight: 1, arbitrary: fc.constant(null) },
      )
      .map((value) => [key, value] as const),
  )
  return fc
    .uniqueArray(fc.oneof(...fields), { minLength: 1, maxLength: 3, selector: ([key]) => key })
    .map((entries) => Object.fromEntries(entries))
}

function anyJson(operation: Operation, stored: Stored): fc.Arbitrary<unknown> {
  const schema = jsonBody(operation)!
  const known = knownTo(operation, stored)
  const examples = requestExamples(document, operation)
  const patched = patchedSchema(operation)
  if (patched !== undefined) return fc.oneof(fc.constantFrom(...examples), anyPatch(patched, known))
  return fc.oneof(
    { weight: examples.length, arbitrary: arbitraryOf(document, schema, known) },
    ...examples.map((example) => ({
      weight: 2,
      arbitrary: arbitraryLike(document, schema, example, known),
    })),
  )
}

/** Bodies that are not JSON, by operation. */
const TEXTS: Readonly<Record<string, fc.Arbitrary<string>>> = {
  measureGpxTrack: anyGpx,
  analyzeLogTable: anyLog,
  checkVehicleLines: anyLines,
  importParts: anyTable('importParts'),
  importFits: anyTable('importFits'),
  importTireSizes: anyTable('importTireSizes'),
}

function anyBody(operation: Operation, stored: Stored): fc.Arbitrary<{ body?: unknown; mediaType?: string }> {
  const mediaType = requestType(operation)
  if (mediaType === undefined) return fc.constant({})
  const { operationId } = operation.spec
  const bodies = isJson(mediaType) ? anyJson(operation, stored) : TEXTS[operationId]
  if (bodies === undefined) throw new Error(`${operationId}: nothing makes ${mediaType}`)
  return bodies.map((body) => ({ body, mediaType }))
}

const HEADERS: Readonly<Record<string, fc.Arbitrary<string>>> = {
  'if-match': fc.constantFrom('*', '*', '*', '"1"', 'W/"1"', '"1", "2"', '"of-another-service"'),
  'if-none-match': fc.constantFrom('*', '"1"', 'W/"2"', '"7","8"'),
  'idempotency-key': fc.uuid(),
}

function anyHeaders({ spec }: Operation): fc.Arbitrary<Record<string, string>> {
  const taken = (spec.parameters ?? []).filter((parameter) => parameter.in === 'header')
  const headers = Object.fromEntries(taken.map(({ name }) => [name, HEADERS[name]!]))
  const accepts = Object.keys(spec.responses['200']?.content ?? {})
  if (accepts.length > 1) headers.accept = fc.constantFrom(...accepts, '*/*', 'text/*;q=0.5', 'image/png')
  return fc.record(headers, { requiredKeys: 'if-match' in headers ? ['if-match'] : [] }) as fc.Arbitrary<
    Record<string, string>
  >
}

function anyQuery(operation: Operation): fc.Arbitrary<Record<string, unknown>> {
  const taken = (operation.spec.parameters ?? []).filter((parameter) => parameter.in === 'query')
  const values = taken
    // Only the service can make a cursor; the tests of lists follow them.
    .filter(({ name }) => name !== 'cursor')
    .map((parameter) => {
      const examples = parameterExamples(parameter)
      const any = arbitraryOf(document, parameter.schema)
      return [
        parameter.name,
        examples.length === 0 ? any : fc.oneof(fc.constantFrom(...examples), any),
      ] as const
    })
  const required = taken.filter((parameter) => parameter.required === true).map(({ name }) => name)
  const query = fc.record(Object.fromEntries(values), { requiredKeys: required }) as fc.Arbitrary<
    Record<string, unknown>
  >
  return query.map(({ bolts, circleDiameter, year, ...rest }) => ({
    ...rest,
    // A bolt circle needs both of its numbers; a year needs a make or a model.
    ...(bolts === undefined || circleDiameter === undefined ? {} : { bolts, circleDiameter }),
    ...(year === undefined || (rest.make === undefined && rest.model === undefined) ? {} : { year }),
  }))
}

function anyPath(operation: Operation, stored: Stored): fc.Arbitrary<Params> {
  const taken = (operation.spec.parameters ?? []).filter((parameter) => parameter.in === 'path')
  if (taken.length === 0) return fc.constant({})
  const text = fc.record(
    Object.fromEntries(
      taken.map((parameter) => {
        const examples = parameterExamples(parameter).map(String)
        const any = arbitraryOf(document, parameter.schema)
          .map(String)
          // An empty path segment, or one of dots, is removed before routing (RFC 3986, 5.2.4).
          .filter((value) => !/^\.{0,2}$/.test(value))
        const some = parameter.name === 'version' ? ['1', '2'] : [NO_ID]
        return [parameter.name, fc.oneof(any, fc.constantFrom(...some, ...examples))]
      }),
    ),
  ) as fc.Arbitrary<Params>
  const isStored = taken.some(({ name }) => name === 'id')
  return isStored
    ? fc.oneof(
        { weight: 5, arbitrary: fc.constantFrom(...stored[kindOf(operation.path)]) },
        { weight: 1, arbitrary: text },
      )
    : text
}

/** Requests that the document admits for an operation. */
export function anyRequest(operation: Operation, stored: Stored): fc.Arbitrary<Request> {
  return fc
    .tuple(anyPath(operation, stored), anyQuery(operation), anyHeaders(operation), anyBody(operation, stored))
    .map(([path, query, headers, { body, mediaType }]) => {
      if (body === undefined) return { path, query, headers }
      return { path, query, headers: { ...headers, 'content-type': mediaType! }, body }
    })
    .chain(ofOneReference)
}

/** Usually the same reference in body and path; a different one is valid to send, but seldom useful. */
function ofOneReference(request: Request): fc.Arbitrary<Request> {
  const { reference } = (request.body ?? {}) as { reference?: string }
  if (request.path.reference === undefined || reference === undefined || /^\.+$/.test(reference))
    return fc.constant(request)
  return fc.oneof(
    { weight: 1, arbitrary: fc.constant(request) },
    { weight: 9, arbitrary: fc.constant({ ...request, path: { reference } }) },
  )
}

/** A request that succeeds with the stored resources: the first example of the document where there is one. */
export function validRequest(operation: Operation, stored: Stored): Request {
  const { operationId, parameters = [] } = operation.spec
  const query = parameters
    .filter((parameter) => parameter.in === 'query' && parameter.required === true)
    .map((parameter) => [parameter.name, parameterExamples(parameter)[0]])
  // A put by reference creates: there is no version to match.
  const isChange =
    parameters.some(({ name }) => name === 'if-match') && operationId !== 'putVehicleByReference'
  const headers: Record<string, string> = isChange ? { 'if-match': '*' } : {}
  const mediaType = requestType(operation)
  let body: unknown
  if (mediaType !== undefined) {
    headers['content-type'] = mediaType
    const [example] = requestExamples(document, operation)
    const known = knownTo(operation, stored)
    if (typeof example === 'string') body = example.replace(/^[0-9a-f-]{36}/m, stored.parts[0]!.id!)
    else if (isJson(mediaType)) {
      const fields = Object.entries(example as object)
      body = Object.fromEntries(fields.map(([key, value]) => [key, known[key]?.[0] ?? value]))
    } else body = `${JSON.stringify(example)}\n`
  }
  const names: Params = {
    code: 'invalid-request',
    ...stored[kindOf(operation.path)]?.[0],
    ...(operationId === 'putVehicleByReference'
      ? { reference: (body as { reference: string }).reference }
      : {}),
  }
  const path = Object.fromEntries(
    parameters.filter((parameter) => parameter.in === 'path').map(({ name }) => [name, names[name] ?? '']),
  )
  const request = { path, query: Object.fromEntries(query), headers }
  return body === undefined ? request : { ...request, body }
}
