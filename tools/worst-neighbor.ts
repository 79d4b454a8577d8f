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

/** A request that is replayed. */
export interface Replayed {
  readonly name: string
  readonly asked: Asked
}

/** How long the neighbor asks beside each, at least [ms]: of some hundreds of its waits the hundredth part means something. */
const BESIDE_MS = 4000

/** What the neighbor waited for. */
interface Waits {
  readonly requests: number
  readonly p50Ms: number
  readonly p99Ms: number
  readonly maxMs: number
}

/** What is asked beside the neighbor, over and over. */
interface Load {
  readonly name: string
  readonly once: () => Promise<readonly number[]>
}

/** The built service on a new database, without rates, and a key: one caller asks it all. */
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

const middle = (values: readonly number[]) => values.toSorted((a, b) => a - b)[values.length >> 1]!

/** Asks for as long as the neighbor is looked at; a row of the table. */
async function row(address: string, neighbor: ChildProcess, { name, once: askOnce }: Load): Promise<string> {
  // What is made for the first request is not measured.
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
 * Replays requests against the built service while a neighbor asks for a tire 100 times a second, each over and over and then all at once;
 * a section of the page with what each took and how long the neighbor waited.
 */
export async function besideNeighbor(root: string, requests: readonly Replayed[]): Promise<string> {
  const folder = mkdtempSync(join(tmpdir(), 'worst-'))
  const { child, address, key } = await startService(root, folder)
  const neighbor = fork(join(root, 'bench/support/neighbor.mjs'), [address])
  try {
    await once(neighbor, 'message')
    const fill = await seed((asked) => send(address, key, asked))
    const replay = async ({ asked }: Replayed) =>
      (await send(address, key, { ...asked, url: fill(asked.url) })).status
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
        once: async () => [await replay(request)],
      })),
      {
        name: 'all at once',
        once: () => Promise.all(requests.map(replay)),
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
