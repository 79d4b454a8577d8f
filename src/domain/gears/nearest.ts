import type { ExactRatio } from '../measure/ratio.js'
import type { SearchWork } from '../measure/search-work.js'

/** A pair of products near the target. */
export interface Candidate {
  readonly numerator: number
  readonly denominator: number
  readonly stages: number
  /** |ratio/target − 1| in floating point. */
  readonly error: number
}

/** More than the rounding of a floating relative error, so that no candidate is lost before the exact comparison. */
const rounding = (error: number) => 2e-15 * (1 + error)

/**
 * The nearest ratios of a search: the wanted number, plus those that floating point cannot order relative to the last of
 * them. Distinct ratios of products up to 400³ differ by at least 2.4e-16, so these are few.
 */
export class Nearest {
  private readonly candidates: Candidate[] = []
  readonly maxTrains: number
  /** Maximum error of a relevant candidate. */
  limit = Number.POSITIVE_INFINITY

  constructor(maxTrains: number) {
    this.maxTrains = maxTrains
  }

  /** Insertion place for a candidate with this error, or -1 if its ratio is there already. */
  placeFor(numerator: number, denominator: number, error: number): number {
    let low = 0
    let high = this.candidates.length
    while (low < high) {
      const middle = (low + high) >> 1
      if (this.candidates[middle]!.error < error) low = middle + 1
      else high = middle
    }
    const slack = rounding(error)
    const same = (one: Candidate) => one.numerator * denominator === numerator * one.denominator
    for (let i = low; i < this.candidates.length && this.candidates[i]!.error - error <= slack; i++)
      if (same(this.candidates[i]!)) return -1
    for (let i = low - 1; i >= 0 && error - this.candidates[i]!.error <= slack; i--)
      if (same(this.candidates[i]!)) return -1
    return low
  }

  insert(place: number, candidate: Candidate): void {
    this.candidates.splice(place, 0, candidate)
    const last = this.candidates[this.maxTrains - 1]
    if (last === undefined) return
    this.limit = last.error + rounding(last.error)
    while (this.candidates[this.candidates.length - 1]!.error > this.limit) this.candidates.pop()
  }

  all(): readonly Candidate[] {
    return this.candidates
  }
}

/**
 * Relative error of a train from whole numbers: zero exactly when the train is exact.
 *
 *     ε = (N/D)/target − 1
 *
 * N and D are the products of the driving and of the driven teeth.
 *
 * @param numerator - N
 * @param denominator - D
 * @param target - Exact ratio
 * @returns ε
 * @see exact arithmetic of whole numbers
 * @example exactError(25, 3, ratioOf(191, 23)) // 0.00349040 ± 1e-8
 */
export function exactError(numerator: number, denominator: number, target: ExactRatio): number {
  const wanted = BigInt(denominator) * target.n
  return Number(BigInt(numerator) * target.d - wanted) / Number(wanted)
}

/**
 * Exact order of nearness of two trains.
 *
 *     |N₁/D₁ − t| against |N₂/D₂ − t|, over a common denominator; then fewest stages, then smallest ratio
 *
 * t is the target, Nᵢ/Dᵢ the ratios of the trains.
 *
 * @param a - First train
 * @param b - Second train
 * @param target - t, exact
 * @returns Below zero if the first is nearer
 * @see exact arithmetic of whole numbers
 * @example nearer({ numerator: 25, denominator: 3, stages: 1, error: 0 }, { numerator: 8, denominator: 1, stages: 1, error: 0 }, ratioOf(191, 23)) // -1 ± 0
 */
export function nearer(a: Candidate, b: Candidate, target: ExactRatio): number {
  const distance = ({ numerator, denominator }: Candidate) => {
    const difference = BigInt(numerator) * target.d - BigInt(denominator) * target.n
    return difference < 0n ? -difference : difference
  }
  const left = distance(a) * BigInt(b.denominator)
  const right = distance(b) * BigInt(a.denominator)
  if (left !== right) return left < right ? -1 : 1
  return a.stages - b.stages || a.numerator * b.denominator - b.numerator * a.denominator
}

/** Work for a pair of products that may be among the nearest. */
const OFFERED = 5

/** Number of evenly spaced driven products searched first: they give an upper bound of the error. */
const FIRST_LOOK = 64

/**
 * Offers every pair of products near the target.
 *
 *     for each driven product D, outward from the first driving product N ≥ target·D, while |N/(target·D) − 1| is within the limit
 *
 * N and D are the products of the driving and of the driven wheels.
 *
 * @param value - Target
 * @param driving - Products of the driving wheels, ascending
 * @param driven - Products of the driven wheels, ascending
 * @param stages - Stages of the products
 * @param nearest - Nearest so far; gets those found
 * @param canBeBuilt - Whether the shelf can have a train with this ratio
 * @param work - Counts the steps
 * @throws {DomainError} `search-too-large`
 * @see Brocot, A. (1861), Calcul des rouages par approximation (products of wheels on both sides)
 * @example ((n) => (searchStages(8, Int32Array.of(24, 25), Int32Array.of(3), 1, n, () => true, new SearchWork('teeth', 'fewer', '/teeth', 1e6)), n.all()[0].numerator))(new Nearest(1)) // 24 ± 0
 */
export function searchStages(
  value: number,
  driving: Int32Array,
  driven: Int32Array,
  stages: number,
  nearest: Nearest,
  canBeBuilt: (numerator: number, denominator: number) => boolean,
  work: SearchWork,
): void {
  const offer = (numerator: number, denominator: number, into: Nearest): boolean => {
    const error = Math.abs(numerator / (value * denominator) - 1)
    if (error > into.limit) return false
    work.spend(OFFERED)
    if (!canBeBuilt(numerator, denominator)) return true
    const place = into.placeFor(numerator, denominator, error)
    if (place >= 0) into.insert(place, { numerator, denominator, stages, error })
    return true
  }
  const outward = (split: number, denominator: number, into: Nearest) => {
    for (let i = split; i < driving.length && offer(driving[i]!, denominator, into); i++);
    for (let i = split - 1; i >= 0 && offer(driving[i]!, denominator, into); i--);
  }
  work.spend(driving.length + driven.length)
  // A separate list: which of several products with one ratio is kept must not depend on this first pass.
  const first = new Nearest(nearest.maxTrains)
  for (let look = 0; look <= FIRST_LOOK; look++) {
    const denominator = driven[Math.floor((look * (driven.length - 1)) / FIRST_LOOK)]
    if (denominator !== undefined) outward(firstNotBelow(driving, value * denominator), denominator, first)
  }
  nearest.limit = Math.min(nearest.limit, first.limit)
  let split = 0
  for (const denominator of driven) {
    const wanted = value * denominator
    // Both lists ascend, so the split only moves up: one pass through each.
    while (split < driving.length && driving[split]! < wanted) split++
    outward(split, denominator, nearest)
  }
}

/**
 * Place of the first number of an ascending list that is not below another.
 *
 *     min { i : xᵢ ≥ x }, by halving
 *
 * xᵢ are the numbers of the list.
 *
 * @param ascending - xᵢ
 * @param wanted - x
 * @returns i, the length of the list if all are below
 * @see definition of the lower bound of a sorted list
 * @example firstNotBelow(Int32Array.of(2, 4, 6), 5) // 2 ± 0
 */
export function firstNotBelow(ascending: Int32Array, wanted: number): number {
  let low = 0
  let high = ascending.length
  while (low < high) {
    const middle = (low + high) >> 1
    if (ascending[middle]! < wanted) low = middle + 1
    else high = middle
  }
  return low
}
