import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { NDJSON } from '../src/http/ndjson.js'
import { inLine, layout } from '../src/reference/json-layout.js'
import type { App } from '../src/routes/options.js'
import { exampleBody, type MadeCall, SteadyIds } from './contract-examples.js'
import { shortened, shortenedLines } from './excerpt.js'
import { bodyExample, type Operation, type OperationSpec, parameterExample } from './operations.js'

/** A call of a page and its answer, as they are shown. */
export interface ExampleCall {
  readonly command: string
  readonly language: string
  readonly answer: string
}

const UUIDS = /[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}/g
const UUID = new RegExp(`^${UUIDS.source}$`)
const INSTANT = /^\d{4}-\d\d-\d\dT[\d:.]+Z$/

const LINES_OF_NDJSON = 3

const ADDRESS = 'http://127.0.0.1:8080'

/** The example vehicle of the repository, in place of the equally long example of the schema. */
export const PROFILE_FILE = 'examples/vehicles/pulse-ring-display.json'
const PROFILE_REFERENCE = 'SHOP/2031'

/** Values that an example needs in addition to its schema. */
interface Given {
  readonly query?: string
  readonly path?: Readonly<Record<string, string>>
  readonly body?: object
  /** Number of lines of a text that do not differ from run to run. */
  readonly lines?: number
}

/** Values that the schemas do not contain: those of the tables of `examples/demo` and of the stored profile. */
const WITH: Readonly<Record<string, Given>> = {
  listParts: { query: 'kind=pulse-ring&bolts=4&circleDiameter=78' },
  findPartCandidates: { path: { id: '0199a000-0000-7000-8000-000000000006' }, query: 'tolerance=0.5' },
  createFit: { body: { part: '0199a000-0000-7000-8000-000000000006' } },
  measureGpxTrack: { query: 'indicatedKm=2.3' },
  getMetrics: { lines: 2 },
  searchFits: { query: 'make=tarvenna&model=ostrel&kind=driven-gear' },
  recordCalibration: { body: { path: 'display' } },
  applyCalibration: { body: { path: 'display' } },
  createTireSize: { body: { size: 'F78-14' } },
  replaceTireSize: { body: { size: 'F78-14' } },
  listTireSizes: { query: 'size=G78-15' },
}

/** Operations of other subjects that must be called first, by subject. */
export const BEFORE: Readonly<Record<string, readonly string[]>> = { fits: ['importParts'] }

const quoted = (text: string) => (text.includes('$') ? `"${text}"` : `'${text.replaceAll("'", `'\\''`)}'`)
const snake = (name: string) => name.replaceAll(/[A-Z]/g, (letter) => `_${letter}`).toUpperCase()

/** Order of the calls of a page: create first (tables before single records), delete last. */
export function inOrder(operations: readonly Operation[]): Operation[] {
  if (operations.every(({ spec }) => spec.security === undefined)) return [...operations]
  const rank = ({ method, path }: Operation) => {
    if (path.endsWith('/import')) return 0
    if (method === 'POST' && !path.includes('{')) return 1
    return method === 'DELETE' ? 3 : 2
  }
  return [...operations].sort((a, b) => rank(a) - rank(b))
}

/** Makes the calls of a page one after another; later calls use values of earlier answers. */
export class ExampleCalls {
  readonly #app: App
  readonly #root: string
  readonly #secret: string
  /** Values that differ from run to run: generated ids, times, today's date. */
  readonly #varies: (text: string) => boolean
  /** Values by the variable names that later calls use, and the reverse. */
  readonly #values = new Map<string, string>()
  readonly #names = new Map<string, string>()
  /** Schemas of the answers shown so far. */
  readonly #shapes = new Set<string>()
  /** The newest ETag of each resource, by id. */
  readonly #etags = new Map<string, string>()
  readonly #steadyIds: SteadyIds
  /** The calls so far in full, with ids that do not differ from run to run. */
  readonly made: MadeCall[] = []

  constructor(app: App, root: string, secret: string, today: string) {
    this.#app = app
    this.#root = root
    this.#secret = secret
    const parts = readFileSync(join(root, 'examples/demo/parts.csv'), 'utf8')
    const stable = new Set(parts.match(UUIDS))
    this.#steadyIds = new SteadyIds(stable)
    this.#varies = (text) => (UUID.test(text) && !stable.has(text)) || INSTANT.test(text) || text === today
  }

  /** The calls that show an operation: one, and one for each further media type of its answer. */
  async of(operation: Operation, all: readonly Operation[]): Promise<ExampleCall[]> {
    const forms = answerForms(operation.spec)
    const calls: ExampleCall[] = []
    for (const form of forms) {
      // The default media type needs no Accept header. It is JSON, unless the answer says otherwise.
      const call =
        (forms.length === 1 || form === 'application/json'
          ? await this.#call(operation, all, form, false)
          : undefined) ?? (forms.length > 1 ? await this.#call(operation, all, form, true) : undefined)
      if (call !== undefined) calls.push(call)
    }
    if (calls.length === 0) throw new Error(`${operation.spec.operationId}: no call shows it`)
    return calls
  }

  async #call(
    operation: Operation,
    all: readonly Operation[],
    form: string,
    accept: boolean,
  ): Promise<ExampleCall | undefined> {
    const { method, spec } = operation
    const { operationId } = spec
    const takes = new Set((spec.parameters ?? []).map(({ name }) => name))
    const given = WITH[operationId]
    const headers: Array<[string, string]> = []
    if (spec.security !== undefined) headers.push(['authorization', 'Bearer $KEY'])
    if (takes.has('if-match')) headers.push(['if-match', this.#etagFor(operation)])
    if (accept) headers.push(['accept', form])
    const path = this.#pathOf(operation)
    const query = given?.query ?? queryOf(spec)
    const body = this.#bodyOf(operation, given?.body)
    if (body !== undefined) headers.push(['content-type', body.type])

    const url = `${ADDRESS}${path}${query === '' ? '' : `?${query}`}`
    const parts = [`curl -s ${/[?&]/.test(url) ? quoted(url) : url}`]
    if (method !== 'GET' && !(method === 'POST' && body !== undefined)) parts[0] += ` -X ${method}`
    for (const [name, value] of headers) parts.push(`-H ${quoted(`${name}: ${value}`)}`)
    if (body !== undefined) parts.push(body.option)
    if (isBinary(form)) parts.push(`-o ${operationId}.${form.split('/')[1]}`)

    const response = await this.#app.inject({
      method,
      url: this.#filled(url.slice(ADDRESS.length)),
      headers: Object.fromEntries(headers.map(([name, value]) => [name, this.#filled(value)])),
      ...(body === undefined ? {} : { payload: body.text }),
    })
    if (response.statusCode >= 300)
      throw new Error(`${operationId}: its example is answered ${response.body}`)
    const type = bare(String(response.headers['content-type']))
    if (response.statusCode !== 204 && type !== form) return undefined
    this.#record(operation, response.statusCode, body, form, response.body)
    const command = parts.join(' \\\n  ')
    if (response.body === '' || isBinary(form)) return { command, language: '', answer: '' }
    const shape = shapeOf(spec, response.statusCode, form)
    const shownBefore = shape !== undefined && this.#shapes.has(shape)
    if (shape !== undefined) this.#shapes.add(shape)
    if (form === NDJSON) {
      const lines = response.body.trimEnd().split('\n').slice(0, LINES_OF_NDJSON)
      const shown = lines.map((line) => inLine(this.#shortened(JSON.parse(line), shownBefore)))
      return { command, language: 'ndjson', answer: shown.join('\n') }
    }
    if (form !== 'application/json') {
      const answer = shortenedLines(response.body, this.#varies, given?.lines)
      return { command, language: languageOf(form), answer }
    }
    const answer = response.json()
    this.#remember(operation, all, answer, response.headers.etag)
    return { command, language: 'json', answer: layout(this.#shortened(answer, shownBefore)) }
  }

  #record(
    { spec: { operationId } }: Operation,
    status: number,
    body: { type: string; text: string } | undefined,
    form: string,
    answer: string,
  ): void {
    const steady = (type: string, text: string) => exampleBody(type, this.#steadyIds.in(text))
    this.made.push({
      operationId,
      status,
      ...(body === undefined ? {} : { request: steady(body.type, body.text) }),
      ...(answer === '' || isBinary(form) ? {} : { answer: steady(form, answer) }),
    })
  }

  #shortened(answer: unknown, shownBefore: boolean): unknown {
    return shortened(answer, { names: this.#names, varies: this.#varies, shownBefore })
  }

  #filled(text: string): string {
    return text.replaceAll(/\$([A-Z_]+)/g, (_, name: string) => {
      const value = name === 'KEY' ? this.#secret : this.#values.get(name)
      if (value === undefined) throw new Error(`no call before has answered $${name}`)
      return value
    })
  }

  #pathOf({ path, spec }: Operation): string {
    return path.replaceAll(/\{(\w+)\}/g, (_, name: string) => {
      const given = WITH[spec.operationId]?.path?.[name]
      if (given !== undefined) return given
      if (name === 'version') return '1'
      if (name === 'reference') return encodeURIComponent(PROFILE_REFERENCE)
      const parameter = spec.parameters?.find((one) => one.name === name)
      const example = parameter === undefined ? undefined : parameterExample(parameter)
      return example === undefined ? `$${snake(name)}` : String(example)
    })
  }

  /** The ETag for a change: that of the last resource in the path. */
  #etagFor({ path }: Operation): string {
    const name = [...path.matchAll(/\{(\w*[iI]d)\}/g)].at(-1)?.[1] ?? 'id'
    return this.#etags.get(this.#values.get(snake(name)) ?? '') ?? '*'
  }

  #bodyOf({ path, spec, document }: Operation, given: object | undefined) {
    const [content] = Object.entries(spec.requestBody?.content ?? {})
    if (content === undefined) return undefined
    const [type, media] = content
    const file = (name: string) => readFileSync(join(this.#root, name), 'utf8')
    if (path.endsWith('/import')) {
      const name = `examples/demo/${spec.tags[0]}.csv`
      return { type, option: `--data-binary @${name}`, text: file(name) }
    }
    if (media.schema?.$ref?.endsWith('/VehicleProfile'))
      return { type, option: `-d @${PROFILE_FILE}`, text: file(PROFILE_FILE) }
    const example = bodyExample(media, document)
    if (typeof example === 'string' || type === NDJSON) {
      const text = typeof example === 'string' ? example : JSON.stringify(example)
      return { type, option: `--data-binary ${quoted(text)}`, text }
    }
    const text = layout({ ...(example as object), ...given }, '  ', 6)
    return { type, option: `-d ${quoted(text)}`, text }
  }

  /** Stores the id of a created resource for later calls. */
  #remember({ path, method }: Operation, all: readonly Operation[], answer: unknown, etag: unknown): void {
    const { id } = answer as { id?: unknown }
    if (typeof id !== 'string') return
    if (typeof etag === 'string') this.#etags.set(id, etag)
    if (method !== 'POST') return
    const one = all.find(
      (other) => other.path.startsWith(`${path}/{`) && !other.path.slice(path.length + 2).includes('/'),
    )
    const parameter = one === undefined ? undefined : /\{(\w+)\}$/.exec(one.path)?.[1]
    if (parameter === undefined) return
    this.#values.set(snake(parameter), id)
    this.#names.set(id, snake(parameter))
  }
}

const shapeOf = ({ responses }: OperationSpec, status: number, form: string) =>
  responses[String(status)]?.content?.[form]?.schema?.$ref

/** A media type without its parameters. */
const bare = (type: string) => type.split(';')[0]!

const isBinary = (form: string) => form === 'application/pdf'

const languageOf = (form: string) => form.replace(/^(text|image)\//, '').replace(/^x-|\+xml$/g, '')

function answerForms({ responses }: OperationSpec): string[] {
  const [, good] = Object.entries(responses).find(([status]) => status.startsWith('2'))!
  const forms = Object.keys(good.content ?? {}).map(bare)
  return forms.length === 0 ? ['application/json'] : forms
}

function queryOf({ parameters = [] }: OperationSpec): string {
  return parameters
    .filter((one) => one.in === 'query' && one.required === true)
    .map((one) => `${one.name}=${encodeURIComponent(String(parameterExample(one))).replaceAll('%2F', '/')}`)
    .join('&')
}
