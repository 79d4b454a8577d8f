import { hostname } from 'node:os'
import { Worker } from 'node:worker_threads'
import type { FastifyBaseLogger } from 'fastify'
import type { OpenRequests } from './open-requests.js'

/** What the thread is given to watch. */
export interface Guarded {
  /** At `BEAT` a number that changes as long as the event loop turns; at `NOTICED` 1 once it has noticed a signal to stop. */
  readonly signs: Int32Array
  readonly silentS: number
  readonly logs: boolean
  readonly routes: readonly string[]
  /** Requests in hand, by the place of their route. */
  readonly counts: Int32Array
  readonly hostname: string
}

export const BEAT = 0
export const NOTICED = 1

/** How often the event loop shows that it turns. */
const BEAT_MS = 250

// The compiled thread stands beside the compiled watchdog, the source beside the source.
const THREAD = new URL(
  import.meta.url.endsWith('.ts') ? './watchdog-thread.ts' : './watchdog-thread.js',
  import.meta.url,
)

export interface WatchdogOptions {
  /** How long the event loop may be silent [s]. */
  readonly silentS: number
  readonly openRequests: OpenRequests
  readonly log: FastifyBaseLogger
}

/**
 * Starts a thread that ends the process when its event loop does not turn any more, so that whoever supervises it starts it anew. Call what it
 * returns when a signal to stop has been noticed.
 */
export function startWatchdog({ silentS, openRequests, log }: WatchdogOptions): () => void {
  const signs = new Int32Array(new SharedArrayBuffer(8))
  setInterval(() => Atomics.add(signs, BEAT, 1), BEAT_MS).unref()
  const { routes, counts } = openRequests
  const logs = log.level !== 'silent'
  const workerData: Guarded = { signs, silentS, logs, routes, counts, hostname: hostname() }
  // Of its own arguments: those of the process may be for what it was started with.
  const thread = new Worker(THREAD, { workerData, execArgv: [] })
  thread.unref()
  thread.on('error', (error) => log.error({ err: error }, 'the watchdog has ended'))
  return () => Atomics.store(signs, NOTICED, 1)
}
