/** Longest work without a pause [ms]: the delay that long work may cause any other request. */
const SLICE_MS = 0.5

/** Permission to work without a pause until it is over. */
export interface TimeSlice {
  isOver(): boolean
}

/**
 * Shares the main thread between long computations: one time slice in each iteration of the event loop, first come, first served.
 * However many computations are waiting, other requests are answered between two slices.
 */
export class TimeSlicer {
  private readonly waiting: Array<(slice: TimeSlice) => void> = []

  next(): Promise<TimeSlice> {
    return new Promise((resolve) => {
      this.waiting.push(resolve)
      if (this.waiting.length === 1) setImmediate(() => this.grant())
    })
  }

  private grant(): void {
    const untilMs = performance.now() + SLICE_MS
    this.waiting.shift()?.({ isOver: () => performance.now() >= untilMs })
    if (this.waiting.length > 0) setImmediate(() => this.grant())
  }
}
