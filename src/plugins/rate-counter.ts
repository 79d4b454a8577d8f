interface Count {
  windowStartMs: number
  asked: number
}

/** What is left of a rate after a request. */
export interface Rate {
  readonly exceeded: boolean
  readonly remaining: number
  /** Until the count starts again. */
  readonly resetS: number
}

/**
 * Counts requests by name in windows of fixed length, with bounded memory: the name that was counted longest ago makes
 * room for a new one.
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

  count(name: string, nowMs: number): Rate {
    let count = this.counts.get(name)
    if (count === undefined || nowMs - count.windowStartMs >= this.windowMs) {
      // Put at the end: the map is in the order in which windows began.
      this.counts.delete(name)
      if (this.counts.size >= this.maxNames) this.counts.delete(this.counts.keys().next().value!)
      count = { windowStartMs: nowMs, asked: 0 }
      this.counts.set(name, count)
    }
    count.asked++
    return {
      exceeded: count.asked > this.most,
      remaining: Math.max(0, this.most - count.asked),
      resetS: Math.ceil((count.windowStartMs + this.windowMs - nowMs) / 1000),
    }
  }
}
