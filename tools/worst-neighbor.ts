import { type ChildProcess, fork, spawn } from 'node:child_process'
import { once } from 'node:events'
import { mkdtempSync, rmSync } from 'node:fs'
import { loadavg, tmpdir } from 'node:os'
import { join } from 'node:path'
import { performance } from 'node:perf_hooks'
import { createInterface } from 'node:readline'
import { setTimeout as wait } from 'node:timers/promises'
import { openSqliteStore } from '../src/db/sqlite/sqlite-store.js'
import { type Asked, seed } from './worst-seed.js'

/** Requests that one caller sends: each in turn, then all at once. */
export interface Caller {
  /** Who it is, in a heading: "a caller without a key". */
  readonly name: string
  readonly requests: readonly Replayed[]
}

/** A request to replay. */
export interface Replayed {
  readonly name: string
  readonly asked: Asked
}

/** Minimum time that each request is repeated [ms]: long enough for a meaningful 99th percentile of the waits. */
const BESIDE_MS = 4000

/** Time that each request is repeated first, unmeasured [ms]: what the first ones compile holds up the neighbor, and its backlog takes some rounds to clear. */
const WARM_UP_MS = 1000

/** How long the neighbor waited. */
interface Waits {
  readonly requests: number
  readonly p50Ms: number
  readonly p99Ms: number
  readonly maxMs: number
}

/** A load that is repeated while the neighbor sends requests. */
interface Load {
  readonly name: string
  readonly once: () => Promise<readonly number[]>
}

/** The built service on a new database with a key, without rate limits: one caller sends every request. */
async function startService(root: string, folder: string) {
  const file = join(folder, 'worst.sqlite')
  const store = openSqliteStore({ file, clock: Date.now })
  const { secret: key } = (await store.keys.createFirst('worst', 'club', 'all'))!
  await store.close()
  const child = spawn(process.execPath, [join(root, 'dist/start/server.js')], {
    cwd: root,
    env: {
      ...process.env,
      PORT: '0',
      // The neighbor is to meet the dearest requests in one process.
      PROCESSES: '1',
      DATABASE_FILE: file,
      LOG_LEVEL: 'error',
      METRICS: 'open',
      RATE_PER_ADDRESS: '0',
      RATE_PER_KEY: '0',
    },
    stdio: ['ignore', 'pipe', 'inherit'],
  })
  for await (const line of createInterface({ input: child.stdout })) {
    const address = /listens on (\S+)\./.exec(line)?.[1]
    if (address !== undefined) return { child, address, key }
  }
  throw new Error('the service does not start')
}

async function cpuS(address: string): Promise<number> {
  const text = await (await fetch(`${address}/metrics`)).text()
  return Number(/^process_cpu_seconds_total (\S+)$/m.exec(text)![1])
}

async function send(address: string, key: string, { method, url, mediaType, body }: Asked) {
  const response = await fetch(address + url, {
    method,
    headers: {
      authorization: `Bearer ${key}`,
      ...(mediaType === undefined ? {} : { 'content-type': mediaType }),
      ...(method === 'PUT' || method === 'PATCH' ? { 'if-match': '*' } : {}),
    },
    ...(body === undefined ? {} : { body }),
  })
  return { status: response.status, text: await response.text() }
}

async function waitsOf(neighbor: ChildProcess): Promise<Waits> {
  const answer = once(neighbor, 'message')
  neighbor.send('waits')
  return (await answer)[0]
}

const median = (values: readonly number[]) => values.toSorted((a, b) => a - b)[values.length >> 1]!

/** Repeats a load while the neighbor is measured; returns a row of the table. */
async function row(address: string, neighbor: ChildProcess, { name, once: askOnce }: Load): Promise<string> {
  const warmFromMs = performance.now()
  while (performance.now() - warmFromMs < WARM_UP_MS) await askOnce()
  await waitsOf(neighbor)
  const cpuBeforeS = await cpuS(address)
  const startMs = performance.now()
  const walls: number[] = []
  const statuses = new Map<number, number>()
  while (performance.now() - startMs < BESIDE_MS) {
    const askedMs = performance.now()
    for (const status of await askOnce()) statuses.set(status, (statuses.get(status) ?? 0) + 1)
    walls.push(performance.now() - askedMs)
  }
  const cpuMs = (1000 * ((await cpuS(address)) - cpuBeforeS)) / walls.length
  const { p50Ms, p99Ms, maxMs } = await waitsOf(neighbor)
  const answered = [...statuses].map(([status, times]) => `${times} × ${status}`).join(', ')
  return `| ${name} | ${answered} | ${[median(walls), cpuMs, p50Ms, p99Ms, maxMs].map((ms) => ms.toFixed(ms < 10 ? 1 : 0)).join(' | ')} |`
}

/** The rows of a caller: each of its requests in turn, then all at once. */
async function rowsOf(
  address: string,
  neighbor: ChildProcess,
  requests: readonly Replayed[],
  replay: (request: Replayed) => Promise<number>,
): Promise<string[]> {
  const loads: Load[] = [
    ...requests.map((request) => ({ name: request.name, once: async () => [await replay(request)] })),
    { name: 'all at once', once: () => Promise.all(requests.map(replay)) },
  ]
  const rows: string[] = []
  for (const load of loads) {
    rows.push(await row(address, neighbor, load))
    console.log(rows.at(-1))
  }
  return rows
}

const IDLE: Load = {
  name: 'nothing',
  once: async () => {
    await wait(100)
    return []
  },
}

/**
 * Replays the requests of callers against the built service, each repeatedly and then all of a caller at once, while a neighbor requests a tire
 * geometry 100 times a second. Returns a section of the page with the cost of each and the waits of the neighbor.
 */
export async function besideNeighbor(root: string, callers: readonly Caller[]): Promise<string> {
  const folder = mkdtempSync(join(tmpdir(), 'worst-'))
  const { child, address, key } = await startService(root, folder)
  const neighbor = fork(join(root, 'bench/support/neighbor.mjs'), [address])
  try {
    await once(neighbor, 'message')
    const fill = await seed((asked) => send(address, key, asked))
    const replay = async ({ asked }: Replayed) =>
      (await send(address, key, { ...asked, url: fill(asked.url) })).status
    const idle = await row(address, neighbor, IDLE)
    console.log(idle)
    const tables: string[] = []
    for (const { name, requests } of callers) {
      if (requests.length === 0) continue
      const rows = await rowsOf(address, neighbor, requests, replay)
      tables.push(`### Beside ${name}

| beside | answers | wall | CPU | neighbor's p50 | p99 | longest |
|---|---|---|---|---|---|---|
${[idle, ...rows].join('\n')}`)
    }
    return `## Beside a neighbor

One caller sends the requests that keep the main thread busy longest to the built service, each repeatedly for ${BESIDE_MS / 1000} s and then all at once. Meanwhile a neighbor,
a process with another address, requests the geometry of a tire 100 times a second. **wall** is the median time until the answer was read; **CPU** is the CPU time of the service per request (per round, where
all are sent at once), including that of the neighbor's requests. The last columns are the waits of the neighbor. In milliseconds, on a machine with two processors and a load of ${loadavg()[0]!.toFixed(1)}; the
first row shows the waits without other requests.

${tables.join('\n\n')}`
  } finally {
    neighbor.disconnect()
    child.kill()
    await once(child, 'exit')
    rmSync(folder, { recursive: true, force: true })
  }
}
