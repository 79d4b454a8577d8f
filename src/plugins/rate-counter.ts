interface Count {
  windowStartMs: number
  /** What was admitted in the window, each by its weight. */
  used: number
}

/** What is left of a rate after a request. */
export interface Rate {
  readonly exceeded: boolean
  readonly remaining: number
  /** Until the count starts again. */
  readonly resetS: number
}

/**
 * Counts requests by name in windows of fixed length, each by its weight, with bounded memory: the name that was counted longest
 * ago makes room for a new one. One that is refused counts nothing: what is left is there for a lighter one.
 */
export class RateCounter {
  private readonly most: number
  private readonly windowMs: number
  private readonly maxNames: number
  private readonly counts = new Map<string, Count>()

  constructor(most: number, windowMs: number, maxNames = 20_000) {
    this.most = most
    this.windowMs = windowMs
    this.maxNames = maxNames
  }

  count(name: string, nowMs: number, weight = 1): Rate {
    let count = this.counts.get(name)
    if (count === undefined || nowMs - count.windowStartMs >= this.windowMs) {
      // Put at the end: the map is in the order in which windows began.
      this.counts.delete(name)
      if (this.counts.size >= this.maxNames) this.counts.delete(this.counts.keys().next().value!)
      count = { windowStartMs: nowMs, used: 0 }
      this.counts.set(name, count)
    }
    const exceeded = count.used + weight > this.most
    if (!exceeded) count.used += weight
    return {
      exceeded,
      remaining: this.most - count.used,
      resetS: Math.ceil((count.windowStartMs + this.windowMs - nowMs) / 1000),
    }
  }
}
