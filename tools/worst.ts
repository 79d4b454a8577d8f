import { type ChildProcess, fork } from 'node:child_process'
import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { performance } from 'node:perf_hooks'
import { type Referable, resolved } from '../src/reference/references.js'
import { WorkMeter } from './work-meter.js'
import { asSent, type Calculation, worstApp } from './worst-app.js'
import { Climb, type Outcome, type Schema, type Tried } from './worst-climb.js'
import { besideNeighbor, type Replayed } from './worst-neighbor.js'

/** Random bodies tried for each operation, besides its examples. The first argument sets another number, the others select operations. */
const STEPS = 400
const PAIRS = 100

/** Lengths of the texts tried [bytes]. */
const LENGTHS = [2 ** 18, 2 ** 22]

/** Timeout of a request, after which its process is killed [ms]. */
const TIMEOUT_MS = 20_000

/** Work recorded for a request that timed out. */
const TIMED_OUT = Number.MAX_SAFE_INTEGER

/** Number of requests of a caller without a key, and of one with a key, that are replayed beside another caller. */
const REPLAYED = 10

/** Runs of each measurement; the minimum counts, since other programs can only add to it. */
const ROUNDS = 3

interface Document {
  readonly paths: Readonly<Record<string, Readonly<Record<string, OperationObject>>>>
  readonly components: object
}

interface Parameter extends Referable {
  readonly name: string
  readonly in: string
  readonly required?: boolean
  readonly schema: Schema
}

interface OperationObject {
  readonly operationId: string
  readonly parameters?: readonly Parameter[]
  readonly security?: unknown
  readonly requestBody?: {
    readonly content: Readonly<Record<string, { readonly schema?: Schema; readonly example?: unknown }>>
  }
}

interface Question {
  readonly calculation: Calculation
  readonly body: unknown
  /** Whether to measure the longest busy time, which itself costs time. */
  readonly watches: boolean
}

/** Cost of a request: CPU time of all threads, and longest busy time of the main thread. */
interface Cost {
  readonly cpuMs: number
  readonly heldMs: number
}

/** Numbers of header and footer lines of a text, by media type; the lines between may be repeated. */
const ONCE: Readonly<Record<string, readonly [number, number]>> = {
  'application/gpx+xml': [2, 2],
  'text/csv': [1, 0],
  'application/x-ndjson': [0, 0],
}

/** Maximum number of rows of a table to store; a longer one is refused before it is read. */
const MAX_STORED_ROWS = 5000

/** The example of a media type, with the lines between header and footer repeated up to a length. */
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

/** Measures the longest time between two turns of the event loop until the returned function is called [ms]. */
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

/** Answers the requests of the parent process one after the other. */
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
  // Warm up: what the first request compiles is not its cost.
  await ask(GEOMETRY, TIRE)
  meter?.read()
  process.send!('ready')
}

/** A process that computes; a new one starts after a timeout. */
class Computer {
  private child: ChildProcess | undefined
  private readonly counts: boolean

  constructor(counts: boolean) {
    this.counts = counts
  }

  async ask(calculation: Calculation, body: unknown, watches = false): Promise<Outcome & Cost> {
    const child = this.child ?? (await this.start())
    const timeout = setTimeout(() => child.kill('SIGKILL'), TIMEOUT_MS)
    try {
      return await new Promise((resolve) => {
        const onExit = () => {
          this.child = undefined
          resolve({ status: 200, work: TIMED_OUT, cpuMs: TIMEOUT_MS, heldMs: TIMEOUT_MS })
        }
        child.once('exit', onExit)
        child.once('message', (outcome: Outcome & Cost) => {
          child.off('exit', onExit)
          resolve(outcome)
        })
        child.send({ calculation, body, watches } satisfies Question)
      })
    } finally {
      clearTimeout(timeout)
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

/** Cost of a request as a multiple of a tire geometry measured alongside. */
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
  readonly costliest: Tried
  readonly cost: Cost
}

const rounded = (value: number) => (value >= 100 ? String(Math.round(value)) : value.toPrecision(2))

const textOf = (body: unknown) => (typeof body === 'string' ? body : JSON.stringify(body))

function shown(body: unknown): string {
  const text = textOf(body)
  const start = text.length > 160 ? `${text.slice(0, 157)}...` : text
  return `${text.length} bytes: \`${start.replaceAll('\n', '⏎').replaceAll('|', '\\|').replaceAll('`', "'")}\``
}

const byCost = (rows: readonly Row[]) => rows.toSorted((a, b) => b.cost.heldMs - a.cost.heldMs)

function table(rows: readonly Row[]): string {
  const lines = byCost(rows).map(({ operationId, what, costliest, cost }) => {
    const work = costliest.work === TIMED_OUT ? 'timed out' : String(costliest.work)
    return `| ${operationId} | ${what} | ${work} | ${rounded(cost.heldMs)} | ${rounded(cost.cpuMs)} | ${shown(costliest.body)} |`
  })
  return `| operation | | work | held | CPU | request |
|---|---|---|---|---|---|
${lines.join('\n')}`
}

function page(rows: readonly Row[], steps: number, neighbor: string): string {
  return `# Most expensive requests

<!-- Made by measurement with \`npm run worst\`; edit tools/worst.ts instead. -->

The maximum cost of one request, as far as a search finds it: for each operation, the most expensive request that is answered and the most
expensive one that is refused. The query of a GET request is written as JSON. The store holds 200 vehicles, one of them with 100 revisions, and 5000 parts; nothing is deleted.
The search starts from the examples of the contract. It sets every number and the length of every list to its maximum, alone and in
pairs (at most ${PAIRS}), then makes ${steps} random changes of one to three places in the most expensive body and keeps those that cost more. Bodies are at most 1 MB; texts
repeat their example up to 256 KiB and 4 MiB.

- **work**: code blocks run in the main thread, counted by the engine; the same on any machine. One tire geometry takes about 500.
- **held**: longest time that the main thread was busy without a pause. **CPU**: processor time of all threads. Both are multiples of the CPU time of one tire geometry,
  measured alongside (about 0.1 ms with its HTTP); the minimum of ${ROUNDS} runs.

Searches of the service count their work in the inner loop and stop with \`search-too-large\`, which names the field to narrow (\`src/domain/measure/search-work.ts\`).
\`tests/contract/worst-cases.test.ts\` repeats a short form of this search and limits the work of each calculation.

${neighbor}

## Without a key

${table(rows.filter(({ needsKey }) => !needsKey))}

## With a key

${table(rows.filter(({ needsKey }) => needsKey))}
`
}

const examplesOf = (document: Document, schema: Schema = {}) => resolved(document, schema).examples ?? []

/** The smallest of the named examples of a media type. */
const namedExample = ({ examples }: { readonly examples?: unknown }): unknown =>
  (examples as { readonly smallest?: { readonly value: unknown } } | undefined)?.smallest?.value

const METHODS = { get: 'GET', post: 'POST', put: 'PUT', patch: 'PATCH' } as const

/** The query parameters as the properties of a body. Without cursors: one that the service did not write is refused at once. */
function queryOf(
  document: Document,
  { parameters = [] }: OperationObject,
): { schema: Schema; examples: unknown[] } {
  const known = parameters.map((parameter) => resolved(document, parameter))
  const asked = known.filter((one) => one.in === 'query' && one.name !== 'cursor')
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

/** The costliest requests, to be replayed. */
const replayed = (rows: readonly Row[]): Replayed[] =>
  byCost(rows)
    .slice(0, REPLAYED)
    .map(({ operationId, calculation, what, costliest: { body } }) => ({
      name: `${operationId}, ${what}`,
      asked: asSent(calculation, body),
    }))

async function search(steps: number, only: readonly string[]): Promise<void> {
  const root = join(import.meta.dirname, '../..')
  const document = JSON.parse(readFileSync(join(root, 'openapi/openapi.json'), 'utf8')) as Document
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
    const contents = operation.requestBody?.content ?? { 'application/json': queryOf(document, operation) }
    for (const [mediaType, content] of Object.entries(contents)) {
      const { schema, example } = content as { schema?: Schema; example?: unknown }
      const calculation = { operationId, method, url, mediaType }
      const found: Array<readonly [string, Tried]> = []
      if (/[/+]json$/.test(mediaType) && schema !== undefined) {
        const examples =
          'examples' in content ? (content.examples as unknown[]) : examplesOf(document, schema)
        // Warm up: what the first request compiles is not its cost.
        for (const body of examples) await counting.ask(calculation, body)
        const { valid, invalid, asked } = await new Climb(document, 1).climb(
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
        const text = example ?? namedExample(content) ?? examplesOf(document, schema)[0]
        if (text === undefined) throw new Error(`${operationId}: no example of ${mediaType}`)
        const maxLines = operationId.startsWith('import') ? MAX_STORED_ROWS : Number.POSITIVE_INFINITY
        for (const bytes of LENGTHS) {
          const body = textOfLength(mediaType, text, bytes, maxLines)
          const outcome = await counting.ask(calculation, body)
          found.push([`${mediaType}, ${outcome.status < 400 ? 'answered' : 'refused'}`, { body, ...outcome }])
        }
      }
      for (const [what, costliest] of found)
        rows.push({
          operationId,
          needsKey,
          calculation,
          what,
          costliest,
          cost: await inGeometries(measuring, calculation, costliest.body),
        })
    }
  }
  counting.stop()
  measuring.stop()
  const neighbor = await besideNeighbor(root, [
    { name: 'a caller without a key', requests: replayed(rows.filter(({ needsKey }) => !needsKey)) },
    { name: 'the holder of a key', requests: replayed(rows.filter(({ needsKey }) => needsKey)) },
  ])
  if (only.length > 0) console.log(page(rows, steps, neighbor))
  else {
    writeFileSync(join(root, 'docs/worst-cases.md'), page(rows, steps, neighbor))
    console.log('wrote docs/worst-cases.md')
  }
}

const [first, ...rest] = process.argv.slice(2)
if (first === '--count' || first === '--measure') await answerParent(first === '--count')
else await search(first === undefined ? STEPS : Number(first), rest)
