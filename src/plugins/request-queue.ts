import { performance } from 'node:perf_hooks'
import { FairQueue } from './fair-queue.js'

/** Interval at which the load is sampled. */
const SAMPLE_MS = 50
/** Time constant of the running mean of the load, so that one long request does not count as overload. */
const MEAN_OVER_MS = 250

/** Delay of a sample from which on the event loop counts as blocked: what arrived meanwhile is still in the sockets. */
const BLOCKED_MS = 500

/** Time during which requests are started in one iteration of the event loop, the last to its end, before the sockets are polled again. */
const SLICE_MS = 2
const MAX_IN_SLICE = 64
/** Weight of the newest request in the running mean of the time per request. */
const NEWEST_SHARE = 0.05

/** Below this queue length no request is refused, however long the requests take. */
const MIN_SHED_LENGTH = 16

/** Waiting work up to which paused connections are resumed [ms]. */
const RESUME_BELOW_MS = 20

export interface QueueOptions {
  /** Longest expected wait of an admitted request [ms]; 0: no limit. */
  readonly afterMs: number
  /** Utilization of the event loop above which requests may be refused, 0 to 1. */
  readonly aboveUtilization: number
}

interface Waiting<T> {
  readonly caller: string
  readonly request: T
}

/**
 * Queue of requests that have arrived and are not started. Callers are served round-robin, each in order of arrival, so that hundreds of
 * requests of one caller delay another by one request at a time. After a long request its caller is passed over for the same time
 * if others are waiting.
 *
 * Only a few requests are started in one iteration of the event loop, and none after a long one, so that the sockets are polled often:
 * about one connection is accepted per iteration, and new callers would otherwise wait for seconds behind a thousand old ones. The expected wait of a new
 * request is known on arrival, so that it can be refused at once. A service that was not busy lately refuses nobody: one long
 * computation or a short stall of the machine is not overload (docs/decisions/0009-load-shedding.md).
 */
export class RequestQueue<T> {
  /** Running mean of the utilization of the event loop, 0 to 1. */
  utilization = 0
  /** Delay of the last sample: the time that an event waits for the event loop [ms]. */
  delayMs = 0
  private readonly options: QueueOptions
  private readonly begin: (request: T) => void
  private readonly waiting = new FairQueue<Waiting<T>>()
  /** Number of scheduled calls of beginNext. */
  private scheduled = 0
  /** Start of the first request of this iteration. */
  private iterationMs: number | undefined
  private lastBegunMs: number | undefined
  /** Caller of the request that was started last. */
  private lastCaller = ''
  /** Request that was started last in this iteration. */
  private current: T | undefined
  /** Times until which callers are passed over, after a request that took longer than a slice. */
  private readonly passedOverUntilMs = new Map<string, number>()
  /** Running mean of the time per request. */
  private requestMs = 0
  private readonly sampler: NodeJS.Timeout
  private sampledMs = performance.now()
  private blockedUntilMs = Number.NEGATIVE_INFINITY
  private lastUtilization = performance.eventLoopUtilization()

  constructor(options: QueueOptions, begin: (request: T) => void) {
    this.options = options
    this.begin = begin
    this.sampler = setInterval(() => this.sample(), SAMPLE_MS).unref()
  }

  get length(): number {
    return this.waiting.length
  }

  /** Whether another request of a caller would wait too long. */
  isFull(caller: string): boolean {
    const { afterMs, aboveUtilization } = this.options
    return (
      afterMs > 0 &&
      this.waiting.length >= MIN_SHED_LENGTH &&
      this.waiting.before(caller) * this.requestMs > afterMs &&
      this.utilization >= aboveUtilization
    )
  }

  /**
   * Whether the event loop was blocked within the last so many milliseconds. A client then may have been in time: its bytes may have been
   * waiting in the socket.
   */
  readonly wasBlockedWithin = (ms: number): boolean => {
    const nowMs = performance.now()
    return nowMs - this.sampledMs > SAMPLE_MS + BLOCKED_MS || nowMs - this.blockedUntilMs <= ms
  }

  /** Number of further requests for which there is time. */
  room(): number {
    return Math.max(0, Math.ceil(RESUME_BELOW_MS / this.requestMs - this.waiting.length))
  }

  /** Starts the request at once, unless others are waiting or enough were started in this iteration of the event loop. */
  add(caller: string, request: T): void {
    if (this.waiting.length === 0 && !this.isSliceOver()) {
      // In the poll phase: what is started in the check phase that follows still counts for this iteration.
      this.beginNow({ caller, request }, () => setImmediate(this.endIteration))
    } else {
      this.waiting.add(caller, { caller, request })
      this.schedule()
    }
  }

  /** Whether it is the turn of a request: it was started in this iteration of the event loop, and none after it. */
  isTurnOf(request: T): boolean {
    return this.current === request
  }

  /** The waiting requests. */
  *[Symbol.iterator](): Iterator<T> {
    for (const { request } of this.waiting) yield request
  }

  close(): void {
    clearInterval(this.sampler)
  }

  private isSliceOver(): boolean {
    return this.iterationMs !== undefined && performance.now() - this.iterationMs >= SLICE_MS
  }

  /** Schedules the start of waiting requests: immediates set during an iteration of the event loop run in the next one. */
  private schedule(): void {
    while (this.scheduled < Math.min(MAX_IN_SLICE, this.waiting.length)) {
      this.scheduled++
      setImmediate(this.beginNext)
    }
  }

  private readonly beginNext = (): void => {
    if (this.isSliceOver()) {
      setImmediate(this.beginNext)
      return
    }
    const nowMs = performance.now()
    this.settle(nowMs)
    const isEligible = (caller: string) => (this.passedOverUntilMs.get(caller) ?? 0) <= nowMs
    const waiting = this.waiting.take(isEligible) ?? this.waiting.take()!
    this.scheduled--
    this.beginNow(waiting, this.endIteration)
    this.schedule()
  }

  /** Adds the time since the last start to the running mean. */
  private settle(nowMs: number): void {
    if (this.lastBegunMs === undefined) return
    const tookMs = nowMs - this.lastBegunMs
    this.requestMs += NEWEST_SHARE * (tookMs - this.requestMs)
    this.passOver(nowMs, tookMs)
    this.lastBegunMs = undefined
  }

  /** Passes over the last caller for as long as its request took, if that was longer than a slice. */
  private passOver(nowMs: number, tookMs: number): void {
    if (tookMs <= SLICE_MS) return
    for (const [caller, untilMs] of this.passedOverUntilMs)
      if (untilMs <= nowMs) this.passedOverUntilMs.delete(caller)
    this.passedOverUntilMs.set(this.lastCaller, nowMs + tookMs)
  }

  private beginNow({ caller, request }: Waiting<T>, endIteration: () => void): void {
    const nowMs = performance.now()
    this.settle(nowMs)
    this.lastBegunMs = nowMs
    this.lastCaller = caller
    this.current = request
    if (this.iterationMs === undefined) {
      this.iterationMs = nowMs
      setImmediate(endIteration)
    }
    this.begin(request)
  }

  private readonly endIteration = (): void => {
    this.iterationMs = undefined
    this.current = undefined
    if (this.waiting.length > 0 || this.lastBegunMs === undefined) return
    // Without waiting requests, the time until the next start is idle time: it is not added to the mean.
    const nowMs = performance.now()
    this.passOver(nowMs, nowMs - this.lastBegunMs)
    this.lastBegunMs = undefined
  }

  private sample(): void {
    const now = performance.now()
    const total = performance.eventLoopUtilization()
    const { utilization } = performance.eventLoopUtilization(total, this.lastUtilization)
    const sinceMs = now - this.sampledMs
    this.delayMs = Math.max(0, sinceMs - SAMPLE_MS)
    if (this.delayMs > BLOCKED_MS) this.blockedUntilMs = now
    // Weighted by the elapsed time: a busy event loop is sampled less often.
    this.utilization += (1 - Math.exp(-sinceMs / MEAN_OVER_MS)) * (utilization - this.utilization)
    this.lastUtilization = total
    this.sampledMs = now
  }
}
