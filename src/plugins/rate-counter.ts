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

/**
 * Counts requests by name in windows of fixed length, each by its weight. Memory is bounded: the name whose window started first is
 * evicted for a new one. A refused request counts nothing, so a lighter one may still be admitted.
 */
export class RateCounter {
  private readonly limit: number
  private readonly windowMs: number
  private readonly maxNames: number
  private readonly counts = new Map<string, Count>()

  constructor(limit: number, windowMs: number, maxNames = 20_000) {
    this.limit = limit
    this.windowMs = windowMs
    this.maxNames = maxNames
  }

  count(name: string, nowMs: number, weight = 1): Rate {
    let count = this.counts.get(name)
    if (count === undefined || nowMs - count.windowStartMs >= this.windowMs) {
      // Deleted first, so that the map stays in the order of window starts.
      this.counts.delete(name)
      if (this.counts.size >= this.maxNames) this.counts.delete(this.counts.keys().next().value!)
      count = { windowStartMs: nowMs, used: 0 }
      this.counts.set(name, count)
    }
    const exceeded = count.used + weight > this.limit
    if (!exceeded) count.used += weight
    return {
      exceeded,
      remaining: this.limit - count.used,
      resetS: Math.ceil((count.windowStartMs + this.windowMs - nowMs) / 1000),
    }
  }
}
