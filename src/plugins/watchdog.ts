import { Worker } from 'node:worker_threads'
import type { FastifyBaseLogger } from 'fastify'
import type { UnwrittenLines } from './log-buffer.js'
import type { OpenRequests } from './open-requests.js'

/** Data that the watchdog thread shares with the main thread. */
export interface Guarded {
  /** `BEAT`: a counter that the event loop increments; `NOTICED`: 1 once it has noticed a signal to stop. */
  readonly signs: Int32Array
  readonly silentS: number
  readonly logs: boolean
  readonly unwritten: UnwrittenLines
  readonly routes: readonly string[]
  /** Open requests by the index of their route. */
  readonly counts: Int32Array
}

export const BEAT = 0
export const NOTICED = 1

/** Interval of the heartbeat. */
const BEAT_MS = 250

// The compiled thread is next to the compiled watchdog, the source next to the source.
const THREAD = new URL(
  import.meta.url.endsWith('.ts') ? './watchdog-thread.ts' : './watchdog-thread.js',
  import.meta.url,
)

export interface WatchdogOptions {
  /** How long the event loop may be blocked [s]. */
  readonly silentS: number
  readonly openRequests: OpenRequests
  readonly log: FastifyBaseLogger
  /** The lines of the log that the thread writes before it ends the process. */
  readonly unwritten: UnwrittenLines
}

/** Its own options of Node in place of those of the process, which may be meant for the main script. */
function startThread(workerData: Guarded): Worker {
  try {
    // It needs internals to hear signals, and Node warns on stderr of every use of them.
    return new Worker(THREAD, { workerData, execArgv: ['--expose-internals', '--no-warnings'] })
  } catch {
    // A Node that has no such option: the thread works without signals.
    return new Worker(THREAD, { workerData, execArgv: [] })
  }
}

/**
 * Starts a thread that ends the process if its event loop hangs, so that its supervisor restarts it.
 *
 * @returns To be called when a signal to stop has been noticed
 */
export function startWatchdog({ silentS, openRequests, log, unwritten }: WatchdogOptions): () => void {
  const signs = new Int32Array(new SharedArrayBuffer(8))
  setInterval(() => Atomics.add(signs, BEAT, 1), BEAT_MS).unref()
  const { routes, counts } = openRequests
  const logs = log.level !== 'silent'
  const thread = startThread({ signs, silentS, logs, unwritten, routes, counts })
  thread.unref()
  thread.on('error', (error) => log.error({ err: error }, 'the watchdog has ended'))
  return () => Atomics.store(signs, NOTICED, 1)
}
