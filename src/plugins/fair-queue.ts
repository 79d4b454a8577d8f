/** What waits, by caller. Callers have their turns one after the other, however much one of them has waiting. */
export class FairQueue<T> {
  /** In the order of their turns. */
  private readonly waiting = new Map<string, T[]>()
  length = 0

  add(caller: string, item: T): void {
    const own = this.waiting.get(caller)
    if (own === undefined) this.waiting.set(caller, [item])
    else own.push(item)
    this.length++
  }

  /** How many would have their turn before one more of this caller, at most. */
  before(caller: string): number {
    const own = this.waiting.get(caller)?.length ?? 0
    const callers = own > 0 ? this.waiting.size : this.waiting.size + 1
    return Math.min(this.length, (own + 1) * callers - 1)
  }

  /** What waits, that of each caller together. */
  *[Symbol.iterator](): Iterator<T> {
    for (const own of this.waiting.values()) yield* own
  }

  /** The oldest of the caller whose turn it is, of those that may have one now. */
  take(mayHaveOne: (caller: string) => boolean = () => true): T | undefined {
    for (const [caller, own] of this.waiting) {
      if (!mayHaveOne(caller)) continue
      const item = own.shift()
      this.waiting.delete(caller)
      if (own.length > 0) this.waiting.set(caller, own)
      this.length--
      return item
    }
    return undefined
  }

  /** Takes back one that waits. @returns Whether it was waiting */
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
