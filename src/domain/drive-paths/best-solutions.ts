import { type Aim, bestSlope, judgeSlope, type Merit, meritOf } from './judgment.js'

/** What is fitted in an open stage. */
export interface Choice {
  readonly ratio: number
  readonly numerator?: number
  readonly denominator?: number
}

export interface Solution {
  /** One choice per open stage, in path order. */
  readonly choices: readonly Choice[]
  /** Indicated over true, minus one. */
  readonly errorFraction: number
  readonly withinAim: boolean
}

/** The best solutions of a search so far. */
export class BestSolutions {
  private readonly entries: Array<{
    rank: Merit
    solution: Solution & { choices: Choice[] }
  }> = []
  private readonly aim: Aim
  private readonly exactProduct: number
  private readonly maxSolutions: number
  private readonly perfect: Merit
  /** Number of solutions offered. */
  offered = 0

  constructor(aim: Aim, exactProduct: number, maxSolutions: number) {
    this.aim = aim
    this.exactProduct = exactProduct
    this.maxSolutions = maxSolutions
    this.perfect = meritOf(judgeSlope(bestSlope(aim), aim), aim)
  }

  /** Whether no better solution is possible. */
  get isPerfect(): boolean {
    const last = this.entries[this.maxSolutions - 1]
    return last !== undefined && compare(last.rank, this.perfect) <= 0
  }

  /** Adds a solution for a product of the open stages, unless enough equally good ones are stored. */
  offer(product: number, choices: readonly Choice[]): boolean {
    this.offered++
    const judgment = judgeSlope(product / this.exactProduct, this.aim)
    const key = meritOf(judgment, this.aim)
    const last = this.entries[this.maxSolutions - 1]
    if (last !== undefined && compare(key, last.rank) >= 0) return false
    const { errorFraction, withinAim } = judgment
    const solution = { choices: [...choices], errorFraction, withinAim }
    let at = this.entries.length
    while (at > 0 && compare(key, this.entries[at - 1]!.rank) < 0) at--
    this.entries.splice(at, 0, { rank: key, solution })
    if (this.entries.length > this.maxSolutions) this.entries.pop()
    return true
  }

  sorted(): Array<Solution & { choices: Choice[] }> {
    return this.entries.map(({ solution }) => solution)
  }
}

const compare = (a: Merit, b: Merit) => a[0] - b[0] || a[1] - b[1]
