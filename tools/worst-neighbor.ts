import { type ChildProcess, fork, spawn } from 'node:child_process'
import { once } from 'node:events'
import { mkdtempSync, rmSync } from 'node:fs'
import { loadavg, tmpdir } from 'node:os'
import { join } from 'node:path'
import { performance } from 'node:perf_hooks'
import { createInterface } from 'node:readline'
import { setTimeout as wait } from 'node:timers/promises'

/** An HTTP request. */
export interface Replayed {
  readonly name: string
  readonly url: string
  readonly mediaType: string
  readonly body: string
}

/** Minimum time for which the neighbor sends requests beside each body [ms]: the 99th percentile needs some hundreds of samples. */
const BESIDE_MS = 4000

/** Waiting times of the neighbor. */
interface Waits {
  readonly requests: number
  readonly p50Ms: number
  readonly p99Ms: number
  readonly maxMs: number
}

/** The request sent repeatedly beside the neighbor. */
interface Load {
  readonly name: string
  readonly once: () => Promise<readonly number[]>
}

/** The built service on a new database, without rate limits, since one caller sends all requests. */
async function startService(root: string, folder: string) {
  const child = spawn(process.execPath, [join(root, 'dist/start/server.js')], {
    cwd: root,
    env: {
      ...process.env,
      PORT: '0',
      DATABASE_FILE: join(folder, 'worst.sqlite'),
      LOG_LEVEL: 'error',
      METRICS: 'open',
      RATE_PER_ADDRESS: '0',
      RATE_PER_KEY: '0',
    },
    stdio: ['ignore', 'pipe', 'inherit'],
  })
  for await (const line of createInterface({ input: child.stdout })) {
    const address = /listens on (\S+)\./.exec(line)?.[1]
    if (address !== undefined) return { child, address }
  }
  throw new Error('the service does not start')
}

async function cpuS(address: string): Promise<number> {
  const text = await (await fetch(`${address}/metrics`)).text()
  return Number(/^process_cpu_seconds_total (\S+)$/m.exec(text)![1])
}

async function send(address: string, { url, mediaType, body }: Replayed): Promise<number> {
  const response = await fetch(address + url, {
    method: 'POST',
    headers: { 'content-type': mediaType },
    body,
  })
  await response.arrayBuffer()
  return response.status
}

async function waitsOf(neighbor: ChildProcess): Promise<Waits> {
  const answer = once(neighbor, 'message')
  neighbor.send('waits')
  return (await answer)[0]
}

const middle = (values: readonly number[]) => values.toSorted((a, b) => a - b)[values.length >> 1]!

/** Sends the request while the neighbor is measured. @returns A row of the table */
async function row(address: string, neighbor: ChildProcess, { name, once: askOnce }: Load): Promise<string> {
  // Warm-up: the first request compiles schemas.
  await askOnce()
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
  return `| ${name} | ${answered} | ${[middle(walls), cpuMs, p50Ms, p99Ms, maxMs].map((ms) => ms.toFixed(ms < 10 ? 1 : 0)).join(' | ')} |`
}

/**
 * Replays requests against the built service while a neighbor requests a tire 100 times per second: each repeatedly, then all at once;
 * makes a section of the page with the cost of each and the waiting time of the neighbor.
 */
export async function besideNeighbor(root: string, requests: readonly Replayed[]): Promise<string> {
  const folder = mkdtempSync(join(tmpdir(), 'worst-'))
  const { child, address } = await startService(root, folder)
  const neighbor = fork(join(root, 'bench/support/neighbor.mjs'), [address])
  try {
    await once(neighbor, 'message')
    const loads: Load[] = [
      {
        name: 'nothing',
        once: async () => {
          await wait(100)
          return []
        },
      },
      ...requests.map((request) => ({
        name: request.name,
        once: async () => [await send(address, request)],
      })),
      {
        name: 'all at once',
        once: () => Promise.all(requests.map((request) => send(address, request))),
      },
    ]
    const rows: string[] = []
    for (const load of loads) {
      rows.push(await row(address, neighbor, load))
      console.log(rows.at(-1))
    }
    return `## Beside a neighbor

The ${requests.length} that hold the thread longest, sent to the built service by one caller, each for ${BESIDE_MS / 1000} s over and over and then all at once; beside it a neighbor with another
address and a process of its own asks for the geometry of a tire 100 times a second. **wall** is the middle of the times until the answer was read, **CPU** the time of the service's process for each (for all, where all
were asked at once), the neighbor's included; then how long the neighbor waited. Milliseconds, on a machine with two processors whose load was ${loadavg()[0]!.toFixed(1)}: the first row says what the machine alone
makes the neighbor wait.

| beside | answers | wall | CPU | neighbor's p50 | p99 | longest |
|---|---|---|---|---|---|---|
${rows.join('\n')}`
  } finally {
    neighbor.disconnect()
    child.kill()
    await once(child, 'exit')
    rmSync(folder, { recursive: true, force: true })
  }
}
