import { MAX_TEETH, type WheelSet } from './wheels.js'

/** Two wheels in mesh. */
export interface Mesh {
  readonly driving: number
  readonly driven: number
  /** Turns of the driven wheel per turn of the driving one. */
  readonly ratio: number
  /** Coprime tooth counts: every tooth meets every tooth of the other wheel before any pair meets again. */
  readonly hunting: boolean
  /** Turns of the driving wheel until the same two teeth meet again. */
  readonly repeatTurns: number
}

/** Greatest common divisor of two whole numbers. */
export const gcd = (a: number, b: number): number => (b === 0 ? a : gcd(b, a % b))

/** Whether the shelf has the wheels of both sides together. */
function together(up: readonly number[], down: readonly number[], { available }: WheelSet): boolean {
  for (const count of up) {
    let used = 0
    for (const one of up) if (one === count) used++
    for (const one of down) if (one === count) used++
    if (used > available[count]!) return false
  }
  return true
}

/**
 * Two wheels in mesh, and whether they wear evenly.
 *
 *     hunting when gcd(driving, driven) = 1;  the same teeth meet again after driven/gcd turns of the driving wheel
 *
 * @param driving - Teeth of the driving wheel. [>= 1]
 * @param driven - Teeth of the driven wheel. [>= 1]
 * @returns The mesh
 * @see hunting tooth: coprime tooth counts wear evenly (textbooks of machine design)
 * @example mesh(20, 50).repeatTurns // 5 ± 0
 * @example mesh(19, 50).hunting // true
 */
export function mesh(driving: number, driven: number): Mesh {
  const common = gcd(driving, driven)
  return { driving, driven, ratio: driving / driven, hunting: common === 1, repeatTurns: driven / common }
}

/** Number of hunting pairs. */
export const huntingPairs = (meshes: readonly Mesh[]) => meshes.filter((one) => one.hunting).length

const ORDERS: Readonly<Record<number, readonly (readonly number[])[]>> = {
  1: [[0]],
  2: [
    [0, 1],
    [1, 0],
  ],
  3: [
    [0, 1, 2],
    [0, 2, 1],
    [1, 0, 2],
    [1, 2, 0],
    [2, 0, 1],
    [2, 1, 0],
  ],
}

let divisorsOfAll: Uint16Array | undefined

/** Greatest common divisors of all pairs of counts, by Euclid's algorithm: row and column. */
function commonDivisors(): Uint16Array {
  if (divisorsOfAll !== undefined) return divisorsOfAll
  const width = MAX_TEETH + 1
  const divisors = new Uint16Array(width * width)
  for (let a = 0; a < width; a++) {
    for (let b = 0; b <= a; b++) {
      const common = b === 0 ? a : divisors[b * width + (a % b)]!
      divisors[a * width + b] = common
      divisors[b * width + a] = common
    }
  }
  divisorsOfAll = divisors
  return divisors
}

/** Driving wheels, driven wheels, and their pairing. */
interface Pairing {
  readonly up: readonly number[]
  readonly down: readonly number[]
  readonly order: readonly number[]
}

function byCounts(a: Pairing, b: Pairing): number {
  for (let i = 0; i < a.up.length; i++) {
    const difference = a.up[i]! - b.up[i]! || a.down[a.order[i]!]! - b.down[b.order[i]!]!
    if (difference !== 0) return difference
  }
  return 0
}

/**
 * The best pairing of driving with driven wheels, over all ways to make the two products.
 *
 *     most hunting pairs, then least steep stage, then fewest teeth, then by the counts themselves
 *
 * @param ups - Ways to make the driving product
 * @param downs - Ways to make the driven product
 * @param shelf - Shelf that must have the wheels of both sides together, if any
 * @param minHunting - Minimum number of hunting pairs
 * @returns The meshes, or undefined if the shelf has the wheels of none
 * @see hunting tooth: coprime tooth counts wear evenly (textbooks of machine design)
 * @example bestMeshes([[20, 35]], [[21, 24]], undefined, 0).map(({ driving, driven }) => `${driving}/${driven}`) // ["20/21","35/24"]
 */
export function bestMeshes(
  ups: readonly (readonly number[])[],
  downs: readonly (readonly number[])[],
  shelf: WheelSet | undefined,
  minHunting: number,
): readonly Mesh[] | undefined {
  let best: Pairing | undefined
  let [bestHunting, bestSteepness, bestTeeth] = [minHunting, 0, 0]
  const divisors = commonDivisors()
  for (const up of ups) {
    for (const down of downs) {
      if (shelf !== undefined && !together(up, down, shelf)) continue
      let teeth = 0
      for (let i = 0; i < up.length; i++) teeth += up[i]! + down[i]!
      for (const order of ORDERS[up.length]!) {
        let hunting = 0
        for (let i = 0; i < up.length; i++)
          if (divisors[up[i]! * (MAX_TEETH + 1) + down[order[i]!]!] === 1) hunting++
        if (hunting < bestHunting) continue
        let steepness = 0
        for (let i = 0; i < up.length; i++) {
          const ratio = up[i]! / down[order[i]!]!
          steepness = Math.max(steepness, ratio, down[order[i]!]! / up[i]!)
        }
        const candidate = { up, down, order }
        const isWorse =
          best !== undefined &&
          (bestHunting - hunting ||
            steepness - bestSteepness ||
            teeth - bestTeeth ||
            byCounts(candidate, best)) >= 0
        if (isWorse) continue
        best = candidate
        ;[bestHunting, bestSteepness, bestTeeth] = [hunting, steepness, teeth]
      }
    }
  }
  const found = best
  return found?.up.map((driving, i) => mesh(driving, found.down[found.order[i]!]!))
}
