/** Longest work at one go [ms]. Whoever asks for anything else meanwhile waits for so long. */
const TURN_MS = 0.5

/** The right to work for a while. */
export interface Turn {
  isOver(): boolean
}

/**
 * Long work in turns: one turn in each turn of the event loop, whoever waits longest first. However many have long work to
 * do, what else comes in is answered after one of them.
 */
export class Turns {
  private readonly waiting: Array<(turn: Turn) => void> = []

  next(): Promise<Turn> {
    return new Promise((resolve) => {
      this.waiting.push(resolve)
      if (this.waiting.length === 1) setImmediate(() => this.give())
    })
  }

  private give(): void {
    const untilMs = performance.now() + TURN_MS
    this.waiting.shift()?.({ isOver: () => performance.now() >= untilMs })
    if (this.waiting.length > 0) setImmediate(() => this.give())
  }
}
