import type { FastifyInstance, FastifyRequest } from 'fastify'
import type { Piscina } from 'piscina'
import { DomainError } from '../domain/errors.js'
import { callerLeft, RequestProblem } from '../http/request-problem.js'
import type { Jobs } from '../routes/jobs.js'
import { CallerCounts, callerOf } from './caller-counts.js'
import { FairQueue } from './fair-queue.js'
import type { JobMessage, JobOutcome, Refusal } from './worker.js'

export interface WorkerLimits {
  readonly threads: number
  /** Most running and waiting jobs of one caller. */
  readonly maxOfOne: number
}

/** Most waiting jobs; each may hold a body of 16 MiB. */
const MAX_WAITING = 16

/**
 * Maximum size of the heap of a thread [MiB]. Without a limit the engine lets garbage grow to several times the size of the live objects: a
 * GPX document of 16 MiB then takes 80 MiB more. The largest body of each kind needs less than 128.
 */
const RESOURCE_LIMITS = { maxOldGenerationSizeMb: 160, maxYoungGenerationSizeMb: 4 }

/** Idle time after which a thread ends. */
const IDLE_MS = 60_000

const RETRY = { 'retry-after': '2' }

// The compiled worker is next to the compiled pool, the source next to the source.
const WORKER = new URL(import.meta.url.endsWith('.ts') ? './worker.ts' : './worker.js', import.meta.url).href

async function startPool(
  threads: number,
  onFailure: (error: Error) => void,
): Promise<Piscina<JobMessage, JobOutcome>> {
  // Imported with the first job, so that the start does not wait for it.
  const { Piscina } = await import('piscina')
  const pool = new Piscina<JobMessage, JobOutcome>({
    filename: WORKER,
    minThreads: 0,
    maxThreads: threads,
    idleTimeout: IDLE_MS,
    resourceLimits: RESOURCE_LIMITS,
  })
  return pool.on('error', onFailure)
}

/** Buffers that are transferred to the thread instead of copied: the bytes of a body, which nobody else uses. */
function transferred(input: JobMessage['input']): ArrayBuffer[] {
  if (!('bytes' in input)) return []
  const { buffer, byteLength } = input.bytes
  // A short body may be part of a pooled buffer that it shares with others.
  return buffer.byteLength === byteLength ? [buffer as ArrayBuffer] : []
}

const refusalOf = (refused: Refusal) =>
  'domain' in refused ? new DomainError(...refused.domain) : new RequestProblem(...refused.request)

/**
 * Worker threads for long computations, so that these do not delay other requests. The first thread starts with the first job; all end
 * when the application closes. Callers are served in turns, none occupies all threads if there are several, and a job ends if
 * its caller disconnects.
 */
export function registerWorkerPool(app: FastifyInstance, { threads, maxOfOne }: WorkerLimits) {
  const accepted = new CallerCounts()
  const waiting = new FairQueue<() => void>()
  /** Aborts each job that is running or waiting. */
  const underWay = new Set<AbortController>()
  const running = new CallerCounts()
  const maxRunningOfOne = Math.max(1, threads - 1)
  const mayRun = (caller: string) => running.of(caller) < maxRunningOfOne
  let starting: ReturnType<typeof startPool> | undefined
  app.addHook('onClose', async () => (await starting)?.close())

  /** Fails all jobs if a thread cannot start: the pool does not, and an unhandled error event would end the process. */
  function endAll(error: Error): void {
    app.log.error({ err: error }, 'a thread cannot start')
    for (const one of underWay) one.abort(error)
  }

  /** Starts waiting jobs while threads are free. */
  function beginWaiting(): void {
    while (running.all < threads) {
      const begin = waiting.take(mayRun)
      if (begin === undefined) return
      begin()
    }
  }

  /** Waits until a thread is free. @returns Releases the thread. @throws the reason if the job is aborted before */
  async function acquireThread(caller: string, ended: AbortSignal): Promise<() => void> {
    const release = await new Promise<() => void>((resolve, reject) => {
      const giveUp = () => {
        if (waiting.remove(caller, start)) reject(ended.reason)
      }
      const start = () => {
        ended.removeEventListener('abort', giveUp)
        resolve(running.take(caller))
      }
      ended.addEventListener('abort', giveUp)
      waiting.add(caller, start)
      beginWaiting()
    })
    return () => {
      release()
      beginWaiting()
    }
  }

  async function outcomeOf(message: JobMessage, signal: AbortSignal): Promise<JobOutcome> {
    starting ??= startPool(threads, endAll)
    const pool = await starting
    signal.throwIfAborted()
    try {
      return await pool.run(message, { signal, transferList: transferred(message.input) })
    } catch (error) {
      throw signal.aborted ? signal.reason : error
    }
  }

  return async <J extends keyof Jobs>(request: FastifyRequest, job: J, input: Jobs[J]['takes']) => {
    const { socket } = request.raw
    // No close event follows if the caller has already disconnected.
    if (socket.destroyed) throw callerLeft()
    const caller = callerOf(request)
    const own = accepted.of(caller)
    if (own >= maxOfOne) {
      const detail = `${own} long computations of this caller are being done; send the next when one has ended.`
      throw new RequestProblem('rate-limited', detail, [], RETRY)
    }
    if (waiting.length >= MAX_WAITING)
      throw new RequestProblem('unavailable', 'Too many long computations are waiting; try again.', [], RETRY)
    const release = accepted.take(caller)
    const end = new AbortController()
    underWay.add(end)
    const leave = () => end.abort(callerLeft())
    socket.once('close', leave)
    try {
      const releaseThread = await acquireThread(caller, end.signal)
      try {
        const outcome = await outcomeOf({ job, input }, end.signal)
        if ('refused' in outcome) throw refusalOf(outcome.refused)
        const { buffer, byteOffset, byteLength } = outcome.answer
        return Buffer.from(buffer as ArrayBuffer, byteOffset, byteLength)
      } finally {
        releaseThread()
      }
    } finally {
      socket.off('close', leave)
      underWay.delete(end)
      release()
    }
  }
}
