import { checkedFilter, type Filter } from './filter.js'

/**
 * State of a running filter: one reading in, one filtered reading out.
 *
 * At the start, the median fills its window with the first reading, the moving average takes the mean of the readings so
 * far, and the exponential stage takes its first input, or `start` if given.
 */
export class FilterRun {
  private readonly median: number
  private readonly window: Float64Array
  private windowAt = 0
  private readonly average: Float64Array
  private averageAt = 0
  private filled = 0
  private sum = 0
  private readonly factor: number
  private readonly start: number
  private value: number
  private empty = true

  constructor(filter: Filter, start = Number.NaN) {
    const { median = 1, movingAverage = 1, factor = 1 } = checkedFilter(filter)
    this.median = median
    this.window = new Float64Array(median)
    this.average = new Float64Array(movingAverage)
    this.factor = factor
    this.start = start
    this.value = start
  }

  /** Forgets every reading. */
  reset(): void {
    this.empty = true
    this.filled = 0
    this.averageAt = 0
    this.sum = 0
    this.value = this.start
  }

  push(reading: number): number {
    let x = reading
    if (this.median > 1) x = this.middle(x)
    if (this.average.length > 1) x = this.mean(x)
    this.empty = false
    // Factor 1 passes the reading unchanged, without rounding.
    const starts = this.factor === 1 || Number.isNaN(this.value)
    this.value = starts ? x : this.value + this.factor * (x - this.value)
    return this.value
  }

  private middle(x: number): number {
    const { window } = this
    if (this.empty) window.fill(x)
    window[this.windowAt] = x
    this.windowAt = this.windowAt + 1 === this.median ? 0 : this.windowAt + 1
    const a = window[0]!
    const b = window[1]!
    const c = window[2]!
    if (this.median === 3) return Math.max(Math.min(a, b), Math.min(Math.max(a, b), c))
    const d = window[3]!
    const e = window[4]!
    // The middle of five is the middle of c, the larger of the small ones and the smaller of the large ones.
    const low = Math.max(Math.min(a, b), Math.min(d, e))
    const high = Math.min(Math.max(a, b), Math.max(d, e))
    return Math.max(Math.min(low, high), Math.min(Math.max(low, high), c))
  }

  private mean(x: number): number {
    const { average } = this
    const { length } = average
    if (this.filled === length) this.sum += x - average[this.averageAt]!
    else {
      this.filled++
      this.sum += x
    }
    average[this.averageAt] = x
    if (++this.averageAt === length) {
      this.averageAt = 0
      // Recompute the sum once per round so that rounding errors do not accumulate.
      let sum = 0
      for (let i = 0; i < length; i++) sum += average[i]!
      this.sum = sum
    }
    return this.sum / this.filled
  }
}
