import type { FastifyInstance, FastifyRequest } from 'fastify'
import type { Piscina } from 'piscina'
import type { Jobs } from '../border/jobs.js'
import { callerLeft, RequestProblem } from '../border/request-problem.js'
import { DomainError } from '../domain/errors.js'
import { FairQueue } from './fair-queue.js'
import { callerOf, Shares } from './shares.js'
import type { JobMessage, JobOutcome, Refusal } from './worker.js'

export interface WorkerLimits {
  readonly threads: number
  /** Jobs of one caller that run or wait. */
  readonly maxOfOne: number
}

/** Jobs that may wait; each may hold a body of 16 MiB. */
const MAX_WAITING = 16

/**
 * Memory of the values of a thread [MiB]. Left to itself the engine lets garbage grow to several times of what is in use: a GPX document of 16 MiB then
 * takes 80 MiB more. Half of it is enough for the largest body of each kind.
 */
const RESOURCE_LIMITS = { maxOldGenerationSizeMb: 256, maxYoungGenerationSizeMb: 8 }

/** A thread that has had nothing to do for so long ends. */
const IDLE_MS = 60_000

const RETRY = { 'retry-after': '2' }

// The compiled worker stands beside the compiled pool, the source beside the source.
const WORKER = new URL(import.meta.url.endsWith('.ts') ? './worker.ts' : './worker.js', import.meta.url).href

async function startPool(
  threads: number,
  onFailure: (error: Error) => void,
): Promise<Piscina<JobMessage, JobOutcome>> {
  // Loaded with the first job: the start need not wait for it.
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

/** What crosses into a thread by changing hands instead of being copied: the bytes of a body, which nobody else looks at. */
function handedOver(input: JobMessage['input']): ArrayBuffer[] {
  if (!('bytes' in input)) return []
  const { buffer, byteLength } = input.bytes
  // A short body may lie in memory that it shares with others.
  return buffer.byteLength === byteLength ? [buffer as ArrayBuffer] : []
}

const refusalOf = (refused: Refusal) =>
  'domain' in refused ? new DomainError(...refused.domain) : new RequestProblem(...refused.request)

/**
 * Threads for long computations, so that they keep no other caller waiting. The first one starts with the first job;
 * all end when the application closes. Callers have their turns one after the other, none has all threads at once where there are
 * several, and a job ends when its caller leaves.
 */
export function registerWorkerPool(app: FastifyInstance, { threads, maxOfOne }: WorkerLimits) {
  const shares = new Shares()
  const waiting = new FairQueue<() => void>()
  /** What ends each job before its time. */
  const underWay = new Set<AbortController>()
  const running = new Shares()
  const maxRunningOfOne = Math.max(1, threads - 1)
  const mayRun = (caller: string) => running.of(caller) < maxRunningOfOne
  let starting: ReturnType<typeof startPool> | undefined
  app.addHook('onClose', async () => (await starting)?.close())

  /** A thread that cannot start leaves those that wait for it without a word; unheard, its failure would end the process. */
  function endAll(error: Error): void {
    app.log.error({ err: error }, 'a thread cannot start')
    for (const one of underWay) one.abort(error)
  }

  /** Begins those that wait for a thread, as far as threads are free. */
  function beginWaiting(): void {
    while (running.all < threads) {
      const begin = waiting.take(mayRun)
      if (begin === undefined) return
      begin()
    }
  }

  /** Waits until a thread is free. @returns What gives it to the next. @throws why it ended before */
  async function turn(caller: string, ended: AbortSignal): Promise<() => void> {
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
      return await pool.run(message, { signal, transferList: handedOver(message.input) })
    } catch (error) {
      throw signal.aborted ? signal.reason : error
    }
  }

  return async <J extends keyof Jobs>(request: FastifyRequest, job: J, input: Jobs[J]['takes']) => {
    const { socket } = request.raw
    // Whoever left before this is not heard leaving.
    if (socket.destroyed) throw callerLeft()
    const caller = callerOf(request)
    const own = shares.of(caller)
    if (own >= maxOfOne) {
      const detail = `${own} long computations of this caller are being done; send the next when one has ended.`
      throw new RequestProblem('rate-limited', detail, [], RETRY)
    }
    if (waiting.length >= MAX_WAITING)
      throw new RequestProblem('unavailable', 'Too many long computations are waiting; try again.', [], RETRY)
    const release = shares.take(caller)
    const end = new AbortController()
    underWay.add(end)
    const leave = () => end.abort(callerLeft())
    socket.once('close', leave)
    try {
      const endTurn = await turn(caller, end.signal)
      try {
        const outcome = await outcomeOf({ job, input }, end.signal)
        if ('refused' in outcome) throw refusalOf(outcome.refused)
        const { buffer, byteOffset, byteLength } = outcome.answer
        return Buffer.from(buffer as ArrayBuffer, byteOffset, byteLength)
      } finally {
        endTurn()
      }
    } finally {
      socket.off('close', leave)
      underWay.delete(end)
      release()
    }
  }
}
