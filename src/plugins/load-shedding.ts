import { performance } from 'node:perf_hooks'
import type { FastifyBaseLogger } from 'fastify'
import type { Answer } from './answer.js'
import type { Connection } from './connection.js'
import type { CorsHeaders } from './cors.js'
import { sendBareProblem } from './problems.js'
import type { RequestQueue } from './request-queue.js'

/** Paths that are answered under any load: monitoring must work when the service is overloaded. */
const NEVER_SHED = /^\/(?:livez|readyz|metrics)(?:$|\?)/

const RETRY_AFTER_S = 1

/**
 * After a refusal a connection is paused until Retry-After is over or the thread has time: a client that retries at once would keep
 * the thread busy with refusals.
 */
const PAUSE_MS = 1000 * RETRY_AFTER_S
const RESUME_EVERY_MS = 10

/** Shortest time between two log lines about shedding: a line costs more than a refusal. */
const LOG_EVERY_MS = 10_000

interface Paused {
  readonly connection: Connection
  readonly sinceMs: number
}

/** Refuses requests that would wait too long, at a fraction of the cost of a response, and pauses their connections. */
export class LoadShedding {
  /** Number of requests refused because of overload. */
  shed = 0
  log: FastifyBaseLogger | undefined
  private readonly queue: RequestQueue<Answer>
  private readonly corsHeaders: CorsHeaders
  /** Connections of the requests refused in this iteration of the event loop. */
  private readonly refused: Connection[] = []
  /** Connections paused after a refusal, longest first. */
  private readonly paused: Paused[] = []
  private resuming: NodeJS.Timeout | undefined
  private loggedMs = Number.NEGATIVE_INFINITY

  constructor(queue: RequestQueue<Answer>, corsHeaders: CorsHeaders) {
    this.queue = queue
    this.corsHeaders = corsHeaders
  }

  /** Whether a request from an address would wait too long. */
  isDue(address: string, url = ''): boolean {
    return this.queue.isFull(address) && !NEVER_SHED.test(url)
  }

  refuse(connection: Connection, answer: Answer): void {
    this.shed++
    if (answer.arrivedMs - this.loggedMs > LOG_EVERY_MS) {
      this.loggedMs = answer.arrivedMs
      this.log?.warn(
        { shed: this.shed, utilization: this.queue.utilization },
        'refusing requests: overloaded',
      )
    }
    const detail = `More requests came than can be answered in time; ask again in ${RETRY_AFTER_S} s.`
    const fields = { ...this.corsHeaders(answer.req.headers.origin), 'retry-after': RETRY_AFTER_S }
    sendBareProblem(answer, 'overloaded', detail, fields)
    this.refused.push(connection)
    // Pause in the next iteration: draining the rest of the request would resume reading.
    if (this.refused.length === 1) setImmediate(this.pauseRefused)
  }

  private readonly pauseRefused = (): void => {
    const sinceMs = performance.now()
    for (const connection of this.refused.splice(0)) {
      connection.pause('refused')
      this.paused.push({ connection, sinceMs })
    }
    this.resuming ??= setInterval(this.resumePaused, RESUME_EVERY_MS).unref()
  }

  private readonly resumePaused = (): void => {
    const nowMs = performance.now()
    const room = this.queue.room()
    const firstToStay = this.paused.findIndex(({ sinceMs }, n) => n >= room && nowMs - sinceMs < PAUSE_MS)
    const due = this.paused.splice(0, firstToStay < 0 ? this.paused.length : firstToStay)
    for (const { connection } of due) connection.resume('refused')
    if (this.paused.length > 0) return
    clearInterval(this.resuming)
    this.resuming = undefined
  }
}
