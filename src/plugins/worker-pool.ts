import type { FastifyInstance } from 'fastify'
import type { Piscina } from 'piscina'
import type { Jobs, RunJob } from '../border/jobs.js'
import { RequestProblem } from '../border/request-problem.js'
import { DomainError } from '../domain/errors.js'
import type { JobMessage, JobOutcome } from './worker.js'

/** Jobs that may wait; each may hold a body of 16 MiB. */
const MAX_WAITING = 16

/** A thread that has had nothing to do for so long ends. */
const IDLE_MS = 60_000

// The compiled worker stands beside the compiled pool, the source beside the source.
const WORKER = new URL(import.meta.url.endsWith('.ts') ? './worker.ts' : './worker.js', import.meta.url).href

async function startPool(threads: number): Promise<Piscina<JobMessage, JobOutcome>> {
  // Loaded with the first job: the start need not wait for it.
  const { Piscina } = await import('piscina')
  return new Piscina<JobMessage, JobOutcome>({
    filename: WORKER,
    minThreads: 0,
    maxThreads: threads,
    maxQueue: MAX_WAITING,
    idleTimeout: IDLE_MS,
  })
}

/**
 * Threads for long computations, so that they keep no other caller waiting. The first one starts with the first job;
 * all end when the application closes.
 */
export function registerWorkerPool(app: FastifyInstance, threads: number): RunJob {
  let starting: ReturnType<typeof startPool> | undefined
  app.addHook('onClose', async () => (await starting)?.close())
  return async <J extends keyof Jobs>(job: J, input: Jobs[J]['takes']) => {
    starting ??= startPool(threads)
    const pool = await starting
    if (pool.queueSize >= MAX_WAITING) {
      throw new RequestProblem('unavailable', 'Too many long computations are waiting; try again.', [], {
        'retry-after': '2',
      })
    }
    const outcome = await pool.run({ job, input })
    if ('refused' in outcome) {
      const { code, message, context } = outcome.refused
      throw new DomainError(code, message, context)
    }
    return outcome.answer as Jobs[J]['answers']
  }
}
