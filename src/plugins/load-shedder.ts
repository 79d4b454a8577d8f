import { performance } from 'node:perf_hooks'

/** How often the load is looked at. */
const SAMPLE_MS = 50

/** Part of the last sample in the running mean: a load counts after a quarter of a second, not at the first long request. */
const NEWEST_SHARE = 0.2

export interface SheddingOptions {
  /** Most time into a turn of the event loop at which a request is still taken; 0: always. */
  readonly afterMs: number
  /** Share of the time that the loop must have been busy lately, 0 to 1, before any is refused. */
  readonly aboveUtilization: number
}

/**
 * Decides which requests to refuse when more come than can be answered.
 *
 * In one turn the event loop answers what had arrived when the turn began, one after another; the later in the turn one is reached,
 * the longer it has waited. Requests within the first `afterMs` of a turn are taken, so that those are answered in time; the rest
 * are refused, so that the next turn begins soon. That goes by the waiting itself, and holds from the second long turn on: neither
 * a long computation on a service that is mostly idle nor one hiccup of the machine refuses anybody
 * (docs/decisions/0009-load-shedding.md).
 */
export class LoadShedder {
  /** Running mean of the share of time that the loop was busy, 0 to 1. */
  utilization = 0
  /** Time by which the last look at the load was late: what a request waits for its turn [ms]. */
  delayMs = 0
  private readonly options: SheddingOptions
  private readonly sampler: NodeJS.Timeout
  private turnBeganMs: number | undefined
  private lastTurnWasLong = false
  private sampledMs = performance.now()
  private lastUtilization = performance.eventLoopUtilization()

  constructor(options: SheddingOptions) {
    this.options = options
    this.sampler = setInterval(() => this.sample(), SAMPLE_MS).unref()
  }

  /** Whether to refuse a request that is reached now. */
  refuses(nowMs: number): boolean {
    if (this.turnBeganMs === undefined) {
      this.turnBeganMs = nowMs
      setImmediate(this.endTurn)
      return false
    }
    const { afterMs, aboveUtilization } = this.options
    const late = nowMs - this.turnBeganMs > afterMs
    return late && this.lastTurnWasLong && this.utilization >= aboveUtilization && afterMs > 0
  }

  close(): void {
    clearInterval(this.sampler)
  }

  private readonly endTurn = (): void => {
    this.lastTurnWasLong = performance.now() - this.turnBeganMs! > this.options.afterMs
    this.turnBeganMs = undefined
  }

  private sample(): void {
    const now = performance.now()
    const total = performance.eventLoopUtilization()
    const { utilization } = performance.eventLoopUtilization(total, this.lastUtilization)
    this.delayMs = Math.max(0, now - this.sampledMs - SAMPLE_MS)
    this.utilization += NEWEST_SHARE * (utilization - this.utilization)
    this.lastUtilization = total
    this.sampledMs = now
  }
}
