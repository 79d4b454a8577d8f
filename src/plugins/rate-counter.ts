interface Count {
  windowStartMs: number
  /** Sum of the weights admitted in the window. */
  used: number
}

/** State of a rate limit after a request. */
export interface Rate {
  readonly exceeded: boolean
  readonly remaining: number
  /** Time until the window ends. */
  readonly resetS: number
}

/** Weight that each name was admitted since the last exchange, with the start of its window. */
export type Uses = ReadonlyMap<string, Readonly<Count>>

/**
 * Counts requests by name in windows of fixed length, each by its weight. Memory is bounded: the name whose window started first is
 * evicted for a new one. A refused request counts nothing, so a lighter one may still be admitted.
 */
export class RateCounter {
  private readonly limit: number
  private readonly windowMs: number
  private readonly maxNames: number
  private readonly counts = new Map<string, Count>()
  /** What other processes have not been told; undefined if there are none. */
  private untold: Map<string, Count> | undefined

  constructor(limit: number, windowMs: number, maxNames = 20_000) {
    this.limit = limit
    this.windowMs = windowMs
    this.maxNames = maxNames
  }

  count(name: string, nowMs: number, weight = 1): Rate {
    let count = this.counts.get(name)
    if (count === undefined || nowMs - count.windowStartMs >= this.windowMs) {
      count = this.begin(name, nowMs)
    }
    const exceeded = count.used + weight > this.limit
    if (!exceeded) {
      count.used += weight
      if (this.untold !== undefined) this.note(this.untold, name, count.windowStartMs, weight)
    }
    return {
      exceeded,
      remaining: this.limit - count.used,
      resetS: Math.ceil((count.windowStartMs + this.windowMs - nowMs) / 1000),
    }
  }

  /** What this process admitted since the last call, for other processes; notes it from the first call on. */
  takeUses(): Uses {
    const uses = this.untold ?? new Map()
    if (this.untold === undefined || uses.size > 0) this.untold = new Map()
    return uses
  }

  /** Adds what another process admitted. A window begins where the first process saw its first request. */
  add(uses: Uses, nowMs: number): void {
    for (const [name, { windowStartMs, used }] of uses) {
      if (nowMs - windowStartMs >= this.windowMs) continue
      let count = this.counts.get(name)
      if (count === undefined || nowMs - count.windowStartMs >= this.windowMs)
        count = this.begin(name, windowStartMs)
      count.windowStartMs = Math.min(count.windowStartMs, windowStartMs)
      count.used = Math.min(this.limit, count.used + used)
    }
  }

  private begin(name: string, windowStartMs: number): Count {
    // Deleted first, so that the map stays in the order of window starts.
    this.counts.delete(name)
    if (this.counts.size >= this.maxNames) this.counts.delete(this.counts.keys().next().value!)
    const count = { windowStartMs, used: 0 }
    this.counts.set(name, count)
    return count
  }

  private note(untold: Map<string, Count>, name: string, windowStartMs: number, weight: number): void {
    const noted = untold.get(name)
    // The start may have moved to that of another process; a window that is over is not told any more.
    if (noted === undefined || windowStartMs - noted.windowStartMs >= this.windowMs)
      untold.set(name, { windowStartMs, used: weight })
    else {
      noted.windowStartMs = windowStartMs
      noted.used += weight
    }
  }
}
