import { performance } from 'node:perf_hooks'
import { FairQueue } from './fair-queue.js'

/** How often the load is looked at. */
const SAMPLE_MS = 50
/** Time constant of the running mean of the load: it counts after a quarter of a second, not at the first long request. */
const MEAN_OVER_MS = 250

/** A look that is later than this: the thread was silent, and what came meanwhile is still in the sockets. */
const SILENT_MS = 500

/** Requests are begun for so long in one turn of the event loop, the last to its end; then whatever else has come is looked at. */
const SLICE_MS = 2
const MAX_IN_SLICE = 64
/** Share of the newest request in the running mean of the time that one takes. */
const NEWEST_SHARE = 0.05

/** So few waiting requests are not too many, however long they take. */
const FEW = 16

/** With so much to do or less, the thread has time for more [ms]. */
const SHORT_MS = 20

export interface QueueOptions {
  /** Longest wait of a request that is taken [ms]; 0: any. */
  readonly afterMs: number
  /** Share of the time that the event loop must have been busy lately, 0 to 1, before any request is refused. */
  readonly aboveUtilization: number
}

interface Waiting<T> {
  readonly caller: string
  readonly request: T
}

/**
 * Requests that have come and are not begun, of each caller in the order in which they came. Callers have their turns one after the other: hundreds of
 * requests of one keep another waiting for one of them each time. Whose request took long lets others who wait go before it for as long.
 *
 * Few are begun in one turn of the event loop, and none after one that took long, so that it keeps on looking at its sockets: it accepts hardly more
 * than one connection in a turn, and would let new callers wait for seconds behind a thousand old ones. How long a new request would wait is known before it is
 * taken, so that one too many can be refused at once. A service that was not busy lately refuses nobody: neither a long computation
 * nor one hiccup of the machine does (docs/decisions/0009-load-shedding.md).
 */
export class RequestQueue<T> {
  /** Running mean of the share of time that the loop was busy, 0 to 1. */
  utilization = 0
  /** Time by which the last look at the load was late: what a request waits for its turn [ms]. */
  delayMs = 0
  private readonly options: QueueOptions
  private readonly begin: (request: T) => void
  private readonly waiting = new FairQueue<Waiting<T>>()
  /** How many of them have been promised to be begun. */
  private called = 0
  /** When the first of this turn was begun. */
  private turnMs: number | undefined
  private lastBegunMs: number | undefined
  /** Who asked what was begun last. */
  private lastCaller = ''
  /** What was begun last in this turn. */
  private current: T | undefined
  /** Until when others who wait go before a caller whose request took longer than a slice. */
  private readonly restsUntilMs = new Map<string, number>()
  /** Running mean of the time from one to the next. */
  private requestMs = 0
  private readonly sampler: NodeJS.Timeout
  private sampledMs = performance.now()
  private silentUntilMs = Number.NEGATIVE_INFINITY
  private lastUtilization = performance.eventLoopUtilization()

  constructor(options: QueueOptions, begin: (request: T) => void) {
    this.options = options
    this.begin = begin
    this.sampler = setInterval(() => this.sample(), SAMPLE_MS).unref()
  }

  get length(): number {
    return this.waiting.length
  }

  /** Whether one more request of a caller would wait too long. */
  isFull(caller: string): boolean {
    const { afterMs, aboveUtilization } = this.options
    return (
      afterMs > 0 &&
      this.waiting.length >= FEW &&
      this.waiting.before(caller) * this.requestMs > afterMs &&
      this.utilization >= aboveUtilization
    )
  }

  /**
   * Whether the thread was silent at some moment of the last so many milliseconds. Then nobody can be said to have been late in them: what they sent
   * may have been there.
   */
  readonly wasSilentWithin = (ms: number): boolean => {
    const nowMs = performance.now()
    return nowMs - this.sampledMs > SAMPLE_MS + SILENT_MS || nowMs - this.silentUntilMs <= ms
  }

  /** How many more requests the thread has time for. */
  room(): number {
    return Math.max(0, Math.ceil(SHORT_MS / this.requestMs - this.waiting.length))
  }

  /** Begins it at once, unless others wait or enough has been begun in this turn. */
  add(caller: string, request: T): void {
    if (this.waiting.length === 0 && !this.isTurnOver()) {
      // Right after the loop has looked at its sockets: what is begun in its other half still counts to this turn.
      this.beginNow({ caller, request }, () => setImmediate(this.endTurn))
    } else {
      this.waiting.add(caller, { caller, request })
      this.call()
    }
  }

  /** Whether it is the turn of a request: it was begun in this turn of the event loop, and none after it. */
  isTurnOf(request: T): boolean {
    return this.current === request
  }

  /** What waits. */
  *[Symbol.iterator](): Iterator<T> {
    for (const { request } of this.waiting) yield request
  }

  close(): void {
    clearInterval(this.sampler)
  }

  private isTurnOver(): boolean {
    return this.turnMs !== undefined && performance.now() - this.turnMs >= SLICE_MS
  }

  /** Has those that wait begun, each after all that the one before did at once; what is called within a turn is done in the next. */
  private call(): void {
    while (this.called < Math.min(MAX_IN_SLICE, this.waiting.length)) {
      this.called++
      setImmediate(this.beginNext)
    }
  }

  private readonly beginNext = (): void => {
    if (this.isTurnOver()) {
      setImmediate(this.beginNext)
      return
    }
    const nowMs = performance.now()
    this.settle(nowMs)
    const isRested = (caller: string) => (this.restsUntilMs.get(caller) ?? 0) <= nowMs
    const waiting = this.waiting.take(isRested) ?? this.waiting.take()!
    this.called--
    this.beginNow(waiting, this.endTurn)
    this.call()
  }

  /** Counts what the request took that was begun last, up to the next. */
  private settle(nowMs: number): void {
    if (this.lastBegunMs === undefined) return
    const tookMs = nowMs - this.lastBegunMs
    this.requestMs += NEWEST_SHARE * (tookMs - this.requestMs)
    this.rest(nowMs, tookMs)
    this.lastBegunMs = undefined
  }

  /** Has its caller rest, if it took long. */
  private rest(nowMs: number, tookMs: number): void {
    if (tookMs <= SLICE_MS) return
    for (const [caller, untilMs] of this.restsUntilMs) if (untilMs <= nowMs) this.restsUntilMs.delete(caller)
    this.restsUntilMs.set(this.lastCaller, nowMs + tookMs)
  }

  private beginNow({ caller, request }: Waiting<T>, endTurn: () => void): void {
    const nowMs = performance.now()
    this.settle(nowMs)
    this.lastBegunMs = nowMs
    this.lastCaller = caller
    this.current = request
    if (this.turnMs === undefined) {
      this.turnMs = nowMs
      setImmediate(endTurn)
    }
    this.begin(request)
  }

  private readonly endTurn = (): void => {
    this.turnMs = undefined
    this.current = undefined
    if (this.waiting.length > 0 || this.lastBegunMs === undefined) return
    // With none waiting, the time to the next is not what one takes.
    const nowMs = performance.now()
    this.rest(nowMs, nowMs - this.lastBegunMs)
    this.lastBegunMs = undefined
  }

  private sample(): void {
    const now = performance.now()
    const total = performance.eventLoopUtilization()
    const { utilization } = performance.eventLoopUtilization(total, this.lastUtilization)
    const sinceMs = now - this.sampledMs
    this.delayMs = Math.max(0, sinceMs - SAMPLE_MS)
    if (this.delayMs > SILENT_MS) this.silentUntilMs = now
    // By the time that passed: the busier the loop, the rarer it is looked at.
    this.utilization += (1 - Math.exp(-sinceMs / MEAN_OVER_MS)) * (utilization - this.utilization)
    this.lastUtilization = total
    this.sampledMs = now
  }
}
