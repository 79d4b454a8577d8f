import { NDJSON } from '../src/http/ndjson.js'
import { JSON_TYPE } from '../src/http/raw-body.js'
import type { App } from '../src/routes/options.js'
import { ERROR_RESPONSES, type ErrorStatus } from '../src/schemas/problems.js'
import type { Media, OpenApiDocument } from './operations.js'

/** A body of a call: a value of JSON, or text. */
export interface ExampleBody {
  readonly mediaType: string
  readonly value: unknown
}

/** A call of an operation and its answer, in full. */
export interface MadeCall {
  readonly operationId: string
  readonly status: number
  readonly request?: ExampleBody
  readonly answer?: ExampleBody
}

/** Texts of these types are sheets to print, or differ from run to run: their type says what they are. */
const SHOWN_BY_TYPE = ['application/pdf', 'text/html', 'image/svg+xml', 'text/plain']

/** Id of the request in the examples of problems. */
const REQUEST_ID = 'job-2031'

interface FurtherCall {
  readonly status: number
  /** The operation, where the answer is no problem. */
  readonly of?: string
  readonly method: 'GET' | 'POST' | 'PUT'
  readonly url: string
  readonly key?: true
  readonly headers?: Readonly<Record<string, string>>
  /** Left out of a PUT: the example vehicle. */
  readonly body?: string
}

const GEOMETRY = {
  method: 'POST',
  url: '/v1/tires/geometry',
  headers: { 'content-type': JSON_TYPE },
} as const
const BY_REFERENCE = { method: 'PUT', url: '/v1/vehicles/by-reference/SHOP%2F2031', key: true } as const

/** Calls for what the pages of the subjects do not show, in order: problems that one request can bring about, and a second good status. */
const FURTHER: readonly FurtherCall[] = [
  { ...GEOMETRY, status: 400, body: '{ "tire": { "size": "195/70R14", "treadwear": { "mm": 2 } } }' },
  { status: 401, method: 'GET', url: '/v1/vehicles' },
  { status: 404, method: 'GET', url: '/v1/parts/0199a000-0000-7000-8000-000000000099' },
  { status: 406, method: 'GET', url: '/v1/vehicles/checks', key: true, headers: { accept: 'text/html' } },
  { ...GEOMETRY, status: 413, body: ' '.repeat(2_000_000) },
  { ...GEOMETRY, status: 415, headers: { 'content-type': 'text/plain' }, body: '195/70R14' },
  { ...GEOMETRY, status: 422, body: '{ "tire": { "size": "195/70X14" } }' },
  { ...BY_REFERENCE, status: 412, headers: { 'if-match': '"3"', 'content-type': JSON_TYPE } },
  { ...BY_REFERENCE, status: 201, of: 'putVehicleByReference', headers: { 'content-type': JSON_TYPE } },
]

/** Makes the further calls on an application whose store has no vehicle. */
export async function addFurtherExamples(
  document: OpenApiDocument,
  app: App,
  secret: string,
  vehicle: string,
): Promise<void> {
  for (const { status, of, method, url, key, headers, body = vehicle } of FURTHER) {
    const response = await app.inject({
      method,
      url,
      headers: {
        'x-request-id': REQUEST_ID,
        ...(key === undefined ? {} : { authorization: `Bearer ${secret}` }),
        ...headers,
      },
      ...(method === 'GET' ? {} : { payload: body }),
    })
    if (response.statusCode !== status)
      throw new Error(`${method} ${url}: expected ${status}, got ${response.body}`)
    if (of === undefined) problemResponse(document, status).example = response.json()
    else {
      const ids = new SteadyIds()
      const mediaType = headers!['content-type']!
      const request = exampleBody(mediaType, body)
      const answer = exampleBody(mediaType, ids.in(response.body))
      addExamples(document, [{ operationId: of, status, request, answer }])
    }
  }
}

/** A body as an example: the value of JSON, of lines the first, which is what their schema is about; any other text as it is. */
export function exampleBody(mediaType: string, text: string): ExampleBody {
  if (mediaType === NDJSON) return { mediaType, value: JSON.parse(text.split('\n')[0]!) }
  return { mediaType, value: mediaType.endsWith('json') ? JSON.parse(text) : text }
}

/** The place of the problems of a status, which all operations share. */
function problemResponse({ components }: OpenApiDocument, status: number): Media {
  const { name } = ERROR_RESPONSES[status as ErrorStatus]
  return components.responses![name]!.content!['application/problem+json']!
}

/** Puts the body of each call, and the answer to it, beside the media type that it has in the document. */
export function addExamples(document: OpenApiDocument, calls: readonly MadeCall[]): void {
  const operations = Object.values(document.paths).flatMap((path) => Object.values(path))
  for (const { operationId, status, request, answer } of calls) {
    const { requestBody, responses } = operations.find((one) => one.operationId === operationId)!
    const media = ({ mediaType }: ExampleBody, content?: Readonly<Record<string, Media>>) =>
      content![mediaType]!
    if (request !== undefined) addCalled(media(request, requestBody?.content), request.value)
    if (answer !== undefined && !SHOWN_BY_TYPE.includes(answer.mediaType))
      addCalled(media(answer, responses[String(status)]!.content), answer.value)
  }
}

/** Adds the body of a call, beside the smallest table that the schema of an import shows. */
function addCalled(media: Media, value: unknown): void {
  const { example, examples } = media
  if (example === undefined && examples === undefined) media.example = value
  else if (typeof example === 'string' && example !== value) {
    delete media.example
    media.examples = { smallest: { value: example }, demo: { value } }
  }
}

const UUIDS = /[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}/g

/** Replaces ids that the service generates, one by one, by ids that are the same in each run. */
export class SteadyIds {
  readonly #given: ReadonlySet<string>
  readonly #steady = new Map<string, string>()

  /** @param given - Ids that callers gave, which are the same anyway */
  constructor(given: ReadonlySet<string> = new Set()) {
    this.#given = given
  }

  in(text: string): string {
    return text.replaceAll(UUIDS, (id) => {
      if (this.#given.has(id)) return id
      const steady = this.#steady.get(id) ?? steadyId(this.#steady.size + 1)
      this.#steady.set(id, steady)
      return steady
    })
  }
}

const steadyId = (place: number) => `0199b000-0000-7000-8000-${String(place).padStart(12, '0')}`
