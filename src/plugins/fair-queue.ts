/** A queue with round-robin over callers: each is served in turn, however many items one of them has waiting. */
export class FairQueue<T> {
  /** Items by caller, in the order in which the callers are served. */
  private readonly waiting = new Map<string, T[]>()
  length = 0

  add(caller: string, item: T): void {
    const own = this.waiting.get(caller)
    if (own === undefined) this.waiting.set(caller, [item])
    else own.push(item)
    this.length++
  }

  /** Most items that would be served before another item of this caller. */
  before(caller: string): number {
    const own = this.waiting.get(caller)?.length ?? 0
    const callers = own > 0 ? this.waiting.size : this.waiting.size + 1
    return Math.min(this.length, (own + 1) * callers - 1)
  }

  /** All waiting items, grouped by caller. */
  *[Symbol.iterator](): Iterator<T> {
    for (const own of this.waiting.values()) yield* own
  }

  /** Removes the oldest item of the next caller that `isEligible` allows. */
  take(isEligible: (caller: string) => boolean = () => true): T | undefined {
    for (const [caller, own] of this.waiting) {
      if (!isEligible(caller)) continue
      const item = own.shift()
      this.waiting.delete(caller)
      if (own.length > 0) this.waiting.set(caller, own)
      this.length--
      return item
    }
    return undefined
  }

  /** Removes a waiting item. @returns Whether it was waiting */
  remove(caller: string, item: T): boolean {
    const own = this.waiting.get(caller)
    const place = own?.indexOf(item) ?? -1
    if (place < 0) return false
    own!.splice(place, 1)
    if (own!.length === 0) this.waiting.delete(caller)
    this.length--
    return true
  }
}
