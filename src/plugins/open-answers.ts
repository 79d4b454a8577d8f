import { performance } from 'node:perf_hooks'
import type { Answer } from './answer.js'
import { OpenRequests } from './open-requests.js'
import { RequestDurations } from './request-durations.js'

/** Label of requests that match no route. */
const NO_ROUTE = '(none)'

/** The responses that are started and not finished; measures and logs each request when its response closes, without a hook. */
export class OpenAnswers {
  readonly durations = new RequestDurations()
  readonly requests = new OpenRequests()
  private readonly started = new Set<Answer>()
  private readonly measure: (this: Answer) => void

  constructor() {
    const { started, requests, durations } = this
    this.measure = function (this: Answer): void {
      started.delete(this)
      const { request, place } = this
      if (place !== undefined) requests.done(place)
      const durationMs = performance.now() - this.arrivedMs
      const route = request?.routeOptions.url ?? NO_ROUTE
      const { method = '' } = this.req
      const status = this.writableFinished ? this.statusCode : 'aborted'
      durations.record(route, method, status, durationMs / 1000)
      request?.log.info(
        { method, route, status, durationMs: Math.round(durationMs * 1000) / 1000 },
        'request',
      )
    }
  }

  get size(): number {
    return this.started.size
  }

  /** Measures a request from its arrival to the end of its response. */
  watch(answer: Answer): void {
    answer.on('close', this.measure)
  }

  start(answer: Answer): void {
    this.started.add(answer)
  }

  /** The request waits for its turn again. */
  suspend(answer: Answer): void {
    this.started.delete(answer)
  }

  [Symbol.iterator](): Iterator<Answer> {
    return this.started.values()
  }
}
