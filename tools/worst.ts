import { type ChildProcess, fork } from 'node:child_process'
import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { performance } from 'node:perf_hooks'
import { WorkMeter } from './work-meter.js'
import { asSent, type Calculation, worstApp } from './worst-app.js'
import { Climb, type Dearest, type Outcome, type Schema } from './worst-climb.js'
import { besideNeighbor } from './worst-neighbor.js'

/** Bodies that are tried of each operation, beside its examples; the first argument names another number, the others operations. */
const STEPS = 400
const PAIRS = 100

/** Lengths of the texts that are tried [bytes]. */
const LENGTHS = [2 ** 18, 2 ** 22]

/** A request that is not answered by then is given up, and the process that computes it ended [ms]. */
const PATIENCE_MS = 20_000

/** Work that stands for a request that was given up. */
const GIVEN_UP = Number.MAX_SAFE_INTEGER

/** Requests that are replayed beside a neighbor. */
const DEAREST = 10

/** Times that a request is measured; the least is taken, since other programs can only add to it. */
const ROUNDS = 3

interface Document {
  readonly paths: Readonly<Record<string, Readonly<Record<string, OperationObject>>>>
  readonly components: { readonly schemas: Readonly<Record<string, Schema>> }
}

interface OperationObject {
  readonly operationId: string
  readonly parameters?: ReadonlyArray<{
    readonly name: string
    readonly in: string
    readonly required?: boolean
    readonly schema: Schema
  }>
  readonly security?: unknown
  readonly requestBody?: {
    readonly content: Readonly<Record<string, { readonly schema?: Schema; readonly example?: unknown }>>
  }
}

interface Question {
  readonly calculation: Calculation
  readonly body: unknown
  /** Whether the longest stretch is measured, which costs time of its own. */
  readonly watches: boolean
}

/** What a request costs: the processor's time of all threads, and how long the thread was held that answers all callers. */
interface Cost {
  readonly cpuMs: number
  readonly heldMs: number
}

/** Lines of a text that stand once at its head and once at its foot, by media type; those between may be repeated. */
const ONCE: Readonly<Record<string, readonly [number, number]>> = {
  'application/gpx+xml': [2, 2],
  'text/csv': [1, 0],
  'application/x-ndjson': [0, 0],
}

/** Rows of a table that is stored; a longer one is refused before it is looked at. */
const MAX_STORED_ROWS = 5000

/** An example of a media type, with its middle repeated up to a length. */
function textOfLength(mediaType: string, example: unknown, bytes: number, maxLines: number): string {
  const lines = (typeof example === 'string' ? example.trimEnd() : JSON.stringify(example)).split('\n')
  const [head, foot] = ONCE[mediaType]!
  const middle = lines.slice(head, lines.length - foot)
  const once = lines.length - middle.length === 0 ? 0 : lines.join('\n').length - middle.join('\n').length
  const fits = Math.floor((bytes - once) / (middle.join('\n').length + 1)) - 1
  const times = Math.max(1, Math.min(fits, Math.floor(maxLines / middle.length)))
  return [
    ...lines.slice(0, head),
    ...Array.from({ length: times }, () => middle.join('\n')),
    ...lines.slice(lines.length - foot),
  ].join('\n')
}

/** Measures the longest time between two turns of the event loop, until it is asked for [ms]. */
function longestStretch(): () => Promise<number> {
  let [longest, last, isOver] = [0, performance.now(), false]
  const look = () => {
    const now = performance.now()
    longest = Math.max(longest, now - last)
    last = now
    if (!isOver) setImmediate(look)
  }
  setImmediate(look)
  return async () => {
    await new Promise((resolve) => setImmediate(resolve))
    isOver = true
    return longest
  }
}

/** Computes what its parent asks, one request after the other. */
async function answerParent(counts: boolean): Promise<void> {
  const { ask } = await worstApp(true)
  const meter = counts ? new WorkMeter() : undefined
  process.on('message', async ({ calculation, body, watches }: Question) => {
    const cpu = process.cpuUsage()
    const stretch = watches ? longestStretch() : undefined
    const status = await ask(calculation, body)
    const { user, system } = process.cpuUsage(cpu)
    process.send!({
      status,
      work: meter?.read() ?? 0,
      cpuMs: (user + system) / 1000,
      heldMs: (await stretch?.()) ?? 0,
    })
  })
  // What is made for the first request is not its cost.
  await ask(GEOMETRY, TIRE)
  meter?.read()
  process.send!('ready')
}

/** A process that computes, started anew after a request that it did not come back from. */
class Computer {
  private child: ChildProcess | undefined
  private readonly counts: boolean

  constructor(counts: boolean) {
    this.counts = counts
  }

  async ask(calculation: Calculation, body: unknown, watches = false): Promise<Outcome & Cost> {
    const child = this.child ?? (await this.start())
    const patience = setTimeout(() => child.kill('SIGKILL'), PATIENCE_MS)
    try {
      return await new Promise((resolve) => {
        const onExit = () => {
          this.child = undefined
          resolve({ status: 200, work: GIVEN_UP, cpuMs: PATIENCE_MS, heldMs: PATIENCE_MS })
        }
        child.once('exit', onExit)
        child.once('message', (outcome: Outcome & Cost) => {
          child.off('exit', onExit)
          resolve(outcome)
        })
        child.send({ calculation, body, watches } satisfies Question)
      })
    } finally {
      clearTimeout(patience)
    }
  }

  stop(): void {
    this.child?.kill()
  }

  private start(): Promise<ChildProcess> {
    const child = fork(import.meta.filename, [this.counts ? '--count' : '--measure'])
    this.child = child
    return new Promise((resolve) => child.once('message', () => resolve(child)))
  }
}

const GEOMETRY: Calculation = {
  operationId: 'computeTireGeometry',
  url: '/v1/tires/geometry',
  mediaType: 'application/json',
}
const TIRE = { tire: { size: '195/70R14' } }

/** What a request costs in tire geometries, each measured beside it. */
async function inGeometries(computer: Computer, calculation: Calculation, body: unknown): Promise<Cost> {
  let [cpu, held] = [Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY]
  for (let round = 0; round < ROUNDS; round++) {
    let unit = Number.POSITIVE_INFINITY
    for (let i = 0; i < 50; i++) unit = Math.min(unit, (await computer.ask(GEOMETRY, TIRE)).cpuMs)
    const { cpuMs } = await computer.ask(calculation, body)
    const { heldMs } = await computer.ask(calculation, body, true)
    cpu = Math.min(cpu, cpuMs / unit)
    held = Math.min(held, heldMs / unit)
  }
  return { cpuMs: cpu, heldMs: held }
}

interface Row {
  readonly operationId: string
  readonly needsKey: boolean
  readonly calculation: Calculation
  readonly what: string
  readonly dearest: Dearest
  readonly cost: Cost
}

const rounded = (value: number) => (value >= 100 ? String(Math.round(value)) : value.toPrecision(2))

const textOf = (body: unknown) => (typeof body === 'string' ? body : JSON.stringify(body))

function shown(body: unknown): string {
  const text = textOf(body)
  const start = text.length > 160 ? `${text.slice(0, 157)}...` : text
  return `${text.length} bytes: \`${start.replaceAll('\n', '⏎').replaceAll('|', '\\|').replaceAll('`', "'")}\``
}

const byDearest = (rows: readonly Row[]) => rows.toSorted((a, b) => b.cost.heldMs - a.cost.heldMs)

function table(rows: readonly Row[]): string {
  const lines = byDearest(rows).map(({ operationId, what, dearest, cost }) => {
    const work = dearest.work === GIVEN_UP ? 'given up' : String(dearest.work)
    return `| ${operationId} | ${what} | ${work} | ${rounded(cost.heldMs)} | ${rounded(cost.cpuMs)} | ${shown(dearest.body)} |`
  })
  return `| operation | | work | held | CPU | request |
|---|---|---|---|---|---|
${lines.join('\n')}`
}

function page(rows: readonly Row[], steps: number, neighbor: string): string {
  return `# Dearest requests

<!-- Made by measurement with \`npm run worst\`; edit tools/worst.ts instead. -->

What one request can cost at most, as far as a search finds: for each operation the dearest request that is answered and the dearest that is refused. What is asked by
GET is the query, written as JSON. Stored are 200 vehicles, one of them with 100 revisions, and 5000 parts; nothing is deleted. The search starts from the examples of the document, puts every number and the length of every list at its maximum, alone and for each two of
them (${PAIRS} pairs at most), then climbs: it changes one to three places of the dearest body and keeps what costs more, ${steps} times. Bodies up to 1 MB; texts are
their example repeated, 256 KiB and 4 MiB long.

- **work**: blocks of the service's code that the thread of all callers ran, counted by the engine; the same on any machine. A tire's geometry is some 500.
- **held**: how long that thread did nothing else at a stretch, and **CPU**: time of the processor, other threads included; both in units of the CPU time of a tire's geometry,
  measured beside it (some 0.1 ms with its HTTP), the least of ${ROUNDS}.

Searches count their work in the loop and end in \`search-too-large\`, which names the field to narrow (\`src/domain/measure/search-work.ts\`). \`tests/contract/worst-cases.test.ts\` repeats a short form of this
search and bounds the work of each calculation.

${neighbor}

## Without a key

${table(rows.filter(({ needsKey }) => !needsKey))}

## With a key

${table(rows.filter(({ needsKey }) => needsKey))}
`
}

const examplesOf = (schemas: Readonly<Record<string, Schema>>, { $ref = '' }: Schema = {}) =>
  schemas[$ref.split('/').at(-1)!]?.examples ?? []

const METHODS = { get: 'GET', post: 'POST', put: 'PUT', patch: 'PATCH' } as const

/** What a query may hold, as if it were a body. Cursors are left out: what stands in one is refused unless the service wrote it. */
function queryOf({ parameters = [] }: OperationObject): { schema: Schema; examples: unknown[] } {
  const asked = parameters.filter((one) => one.in === 'query' && one.name !== 'cursor')
  const required = asked.filter((one) => one.required).map(({ name }) => name)
  const properties = Object.fromEntries(asked.map(({ name, schema }) => [name, schema]))
  const largest = ({ maximum, enum: values }: Schema) => maximum ?? values?.at(-1) ?? '165R13'
  const valuesOf = (names: readonly string[]) =>
    Object.fromEntries(names.map((name) => [name, largest(properties[name]!)]))
  return {
    schema: { type: 'object', properties, required },
    examples: [valuesOf(Object.keys(properties)), valuesOf(required)],
  }
}

async function search(steps: number, only: readonly string[]): Promise<void> {
  const root = join(import.meta.dirname, '../..')
  const document = JSON.parse(readFileSync(join(root, 'openapi/openapi.json'), 'utf8')) as Document
  const { schemas } = document.components
  const counting = new Computer(true)
  const measuring = new Computer(false)
  const rows: Row[] = []
  const operations = Object.entries(document.paths).flatMap(([url, item]) =>
    Object.entries(METHODS).flatMap(([name, method]) => {
      const operation = item[name]
      return operation === undefined ? [] : [{ url, method, operation }]
    }),
  )
  for (const { url, method, operation } of operations) {
    const { operationId } = operation
    if (only.length > 0 && !only.includes(operationId)) continue
    const needsKey = 'security' in operation
    const contents = operation.requestBody?.content ?? { 'application/json': queryOf(operation) }
    for (const [mediaType, content] of Object.entries(contents)) {
      // The same patch under another name.
      if (mediaType === 'application/merge-patch+json') continue
      const { schema, example } = content as { schema?: Schema; example?: unknown }
      const calculation = { operationId, method, url, mediaType }
      const found: Array<readonly [string, Dearest]> = []
      if (mediaType === 'application/json' && schema !== undefined) {
        const examples = 'examples' in content ? (content.examples as unknown[]) : examplesOf(schemas, schema)
        // What is made for the first request is not its cost.
        for (const body of examples) await counting.ask(calculation, body)
        const { valid, invalid, asked } = await new Climb(schemas, 1).climb(
          schema,
          examples,
          steps,
          PAIRS,
          (body) => counting.ask(calculation, body),
        )
        console.log(
          `${operationId}: ${asked} requests, work ${valid?.work} answered, ${invalid?.work} refused`,
        )
        if (valid !== undefined) found.push(['answered', valid])
        if (invalid !== undefined) found.push(['refused', invalid])
      } else {
        const text = example ?? examplesOf(schemas, schema)[0]
        if (text === undefined) throw new Error(`${operationId}: no example of ${mediaType}`)
        const maxLines = operationId.startsWith('import') ? MAX_STORED_ROWS : Number.POSITIVE_INFINITY
        for (const bytes of LENGTHS) {
          const body = textOfLength(mediaType, text, bytes, maxLines)
          const outcome = await counting.ask(calculation, body)
          found.push([`${mediaType}, ${outcome.status < 400 ? 'answered' : 'refused'}`, { body, ...outcome }])
        }
      }
      for (const [what, dearest] of found)
        rows.push({
          operationId,
          needsKey,
          calculation,
          what,
          dearest,
          cost: await inGeometries(measuring, calculation, dearest.body),
        })
    }
  }
  counting.stop()
  measuring.stop()
  const dearest = byDearest(rows).slice(0, DEAREST)
  const neighbor = await besideNeighbor(
    root,
    dearest.map(({ operationId, calculation, what, dearest: { body } }) => ({
      name: `${operationId}, ${what}`,
      asked: asSent(calculation, body),
    })),
  )
  if (only.length > 0) console.log(page(rows, steps, neighbor))
  else {
    writeFileSync(join(root, 'docs/worst-cases.md'), page(rows, steps, neighbor))
    console.log('wrote docs/worst-cases.md')
  }
}

const [first, ...rest] = process.argv.slice(2)
if (first === '--count' || first === '--measure') await answerParent(first === '--count')
else await search(first === undefined ? STEPS : Number(first), rest)
