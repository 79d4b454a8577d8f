import { DomainError } from '../errors.js'
import type { Note } from '../measure/notes.js'
import { type ExactRatio, ratioOf } from '../measure/ratio.js'
import { SearchWork } from '../measure/search-work.js'
import type { SourceId } from '../measure/sources.js'
import { MAX_TEETH, type ProductTables, productTables, type WheelSet, waysToMake } from './wheels.js'

/** What trains may be made of. */
export interface TrainLimits {
  /** Largest number of stages; trains of fewer stages are searched too. [1 .. 3] */
  readonly stages: number
  readonly driving: WheelSet
  /** The same object as `driving`: one shelf, so that with `eachOnce` a wheel cannot stand on both sides. */
  readonly driven: WheelSet
  /** Most trains to return, each of another ratio. [1 .. 200] */
  readonly most: number
}

/** Two wheels in mesh. */
export interface Mesh {
  readonly driving: number
  readonly driven: number
  /** Prime to each other: every tooth meets every tooth of the other wheel before one pair meets again. */
  readonly hunting: boolean
  /** Turns of the driving wheel until the same two teeth meet again. */
  readonly repeatTurns: number
}

export interface Train {
  readonly meshes: readonly Mesh[]
  /** Turns of the last wheel per turn of the first, in lowest terms. */
  readonly ratio: ExactRatio
  /** Ratio over target, minus one; zero only when exact. */
  readonly relativeError: number
}

export interface TrainSearch {
  /** Best first; no two of one ratio. */
  readonly trains: readonly Train[]
  /** Pairs of a driving and a driven product among which nothing better is left. */
  readonly searched: number
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/** A pair of products near the target. */
interface Candidate {
  readonly numerator: number
  readonly denominator: number
  readonly stages: number
  /** |ratio/target − 1| in floating point. */
  readonly error: number
}

/** More than the rounding of a floating relative error, so that no candidate is lost before the exact comparison. */
const rounding = (error: number) => 2e-15 * (1 + error)

/**
 * Keeps the nearest ratios of a search of any length: the wanted number, and those that floating point cannot order
 * against the last of them. Distinct ratios of products up to 400³ lie at least 2.4e-16 apart, so these are few.
 */
class Nearest {
  private readonly kept: Candidate[] = []
  readonly most: number
  /** Largest error that still matters. */
  limit = Number.POSITIVE_INFINITY

  constructor(most: number) {
    this.most = most
  }

  /** Where a candidate of this error goes, or -1 when its ratio is there already. */
  placeFor(numerator: number, denominator: number, error: number): number {
    let low = 0
    let high = this.kept.length
    while (low < high) {
      const middle = (low + high) >> 1
      if (this.kept[middle]!.error < error) low = middle + 1
      else high = middle
    }
    const slack = rounding(error)
    const same = (one: Candidate) => one.numerator * denominator === numerator * one.denominator
    for (let i = low; i < this.kept.length && this.kept[i]!.error - error <= slack; i++)
      if (same(this.kept[i]!)) return -1
    for (let i = low - 1; i >= 0 && error - this.kept[i]!.error <= slack; i--)
      if (same(this.kept[i]!)) return -1
    return low
  }

  insert(place: number, candidate: Candidate): void {
    this.kept.splice(place, 0, candidate)
    const last = this.kept[this.most - 1]
    if (last === undefined) return
    this.limit = last.error + rounding(last.error)
    while (this.kept[this.kept.length - 1]!.error > this.limit) this.kept.pop()
  }

  all(): readonly Candidate[] {
    return this.kept
  }
}

/** (N/D)/target − 1 from whole numbers: zero exactly when the train is exact. */
function exactError(numerator: number, denominator: number, target: ExactRatio): number {
  const wanted = BigInt(denominator) * target.n
  return Number(BigInt(numerator) * target.d - wanted) / Number(wanted)
}

/** Exact order of nearness: |N₁/D₁ − t| against |N₂/D₂ − t|, over a common denominator. */
function nearer(a: Candidate, b: Candidate, target: ExactRatio): number {
  const distance = ({ numerator, denominator }: Candidate) => {
    const difference = BigInt(numerator) * target.d - BigInt(denominator) * target.n
    return difference < 0n ? -difference : difference
  }
  const left = distance(a) * BigInt(b.denominator)
  const right = distance(b) * BigInt(a.denominator)
  if (left !== right) return left < right ? -1 : 1
  return a.stages - b.stages || a.numerator * b.denominator - b.numerator * a.denominator
}

/** Most steps of work of a search: four times what 200 wheels in three stages take on either side. */
const MAX_WORK = 20_000_000

/** Steps of work that a pair of products counts for that may be among the nearest, and a pairing of wheels. */
const OFFERED = 5
const PAIRED = 10

/** Driven products that are looked at first, evenly out of all: they show how near the nearest lie at most. */
const FIRST_LOOK = 64

/** Offers every pair of products near the target: for each driven product, outward from where the target falls among the driving ones. */
function searchStages(
  value: number,
  driving: Int32Array,
  driven: Int32Array,
  stages: number,
  nearest: Nearest,
  canBeBuilt: (numerator: number, denominator: number) => boolean,
  work: SearchWork,
): void {
  const offer = (numerator: number, denominator: number, kept: Nearest): boolean => {
    const error = Math.abs(numerator / (value * denominator) - 1)
    if (error > kept.limit) return false
    work.spend(OFFERED)
    if (!canBeBuilt(numerator, denominator)) return true
    const place = kept.placeFor(numerator, denominator, error)
    if (place >= 0) kept.insert(place, { numerator, denominator, stages, error })
    return true
  }
  const outward = (split: number, denominator: number, kept: Nearest) => {
    for (let i = split; i < driving.length && offer(driving[i]!, denominator, kept); i++);
    for (let i = split - 1; i >= 0 && offer(driving[i]!, denominator, kept); i--);
  }
  work.spend(driving.length + driven.length)
  // Kept apart: which of the products of one ratio is kept is not to depend on where it was looked first.
  const first = new Nearest(nearest.most)
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

/** A wheel that drives cannot be driven as well. */
const isExclusive = ({ driving, driven }: TrainLimits) => driving === driven && driving.eachOnce

/** True when the wheels of both sides are on the shelf together. */
function together(up: readonly number[], down: readonly number[], { available }: WheelSet): boolean {
  for (const count of up) {
    let used = 0
    for (const one of up) if (one === count) used++
    for (const one of down) if (one === count) used++
    if (used > available[count]!) return false
  }
  return true
}

/** Most pairs of products of one ratio that are looked through for wheels prime to each other: bounds the time where none are. */
const MAX_PRODUCTS = 50

/** Looking up a product takes as long as looking at so many in order. */
const LOOK_UP = 16

/** Pairs of products that have a ratio, ascending. */
function* productsOf(
  { numerator, denominator }: Pick<Candidate, 'numerator' | 'denominator'>,
  { driving, driven }: ProductTables[number],
) {
  if (driving.length === 0 || driven.length === 0) return
  const common = gcd(numerator, denominator)
  const [n, d] = [numerator / common, denominator / common]
  const first = Math.ceil(Math.max(driving[0]! / n, driven[0]! / d))
  const last = Math.floor(Math.min(driving.at(-1)! / n, driven.at(-1)! / d))
  if ((last - first) * LOOK_UP < driven.length) {
    for (let k = first; k <= last; k++)
      if (holds(driven, k * d) && holds(driving, k * n)) yield [k * n, k * d] as const
    return
  }
  let at = firstNotBelow(driving, first * n)
  for (let i = firstNotBelow(driven, first * d); i < driven.length; i++) {
    const product = driven[i]!
    if (product % d !== 0) continue
    const wanted = (product / d) * n
    while (at < driving.length && driving[at]! < wanted) at++
    if (at === driving.length) return
    if (driving[at] === wanted) yield [wanted, product] as const
  }
}

/** Of the trains of a candidate's ratio, in as many stages, the preferred one of the first product that has a train with the most hunting pairs. */
function bestTrainOf(
  candidate: Candidate,
  limits: TrainLimits,
  tables: ProductTables,
  work: SearchWork,
): readonly Mesh[] {
  const { stages } = candidate
  let best: readonly Mesh[] | undefined
  let looked = 0
  for (const [numerator, denominator] of productsOf(candidate, tables[stages - 1]!)) {
    const ups = waysToMake(numerator, limits.driving, stages)
    const downs = waysToMake(denominator, limits.driven, stages)
    work.spend(ups.length * downs.length * PAIRED)
    const meshes = bestMeshes(
      ups,
      downs,
      isExclusive(limits) ? limits.driving : undefined,
      best === undefined ? 0 : huntingPairs(best) + 1,
    )
    looked++
    if (meshes !== undefined) best = meshes
    if (best !== undefined && (huntingPairs(best) === stages || looked >= MAX_PRODUCTS)) break
  }
  return best!
}

/**
 * Best trains for a ratio within limits of wheels: an exact search, not the convergents alone.
 *
 *     r = Π drivingᵢ / Π drivenᵢ,   least |r/target − 1|
 *
 * Meet in the middle: the distinct products of the driving wheels and of the driven wheels are two ascending lists, and one pass finds every pair
 * nearer than the worst that is kept. 12 to 60 teeth in three stages are 4·10⁸ trains, but two lists of some 10⁴. Ratios are compared in whole
 * numbers, so order and exactness do not depend on rounding. Of the trains of one ratio one with the fewest stages is shown, and of these with most pairs
 * prime to each other, of the smallest wheels that have it (50 products of the ratio are looked through); of one product no stage is steeper than it must be.
 *
 * @param target - Turns of the last wheel per turn of the first, exact. [1e-6 .. 1e6]
 * @param limits - Stages, wheels, how many to return
 * @param tables - Products of the wheels, where they are known already
 * @returns Trains, best first
 * @throws {DomainError} `too-few-wheels` when no train can be built from the shelf, `search-too-large`
 * @see Brocot, A. (1861), Calcul des rouages par approximation; Stern (1858)
 * @example bestTrains(ratioOf(191, 23), { stages: 1, driving: wheelSet([191, 83, 25], false), driven: wheelSet([23, 10, 3], false), most: 1 }).trains[0].relativeError // 0 ± 0
 */
export function bestTrains(
  target: ExactRatio,
  limits: TrainLimits,
  tables: ProductTables = productTables(limits.driving, limits.driven, limits.stages),
): TrainSearch {
  const { most } = limits
  const value = target.valueOf()
  const nearest = new Nearest(most)
  const exclusive = isExclusive(limits)
  const work = new SearchWork('teeth', 'give fewer wheels, or fewer stages', '/teeth', MAX_WORK)
  let searched = 0
  for (const [index, { driving, driven, repeated }] of tables.entries()) {
    searched += driving.length * driven.length
    // A wheel that two products share can be left out of both: such a ratio has a train of fewer stages, which was found before.
    // Only equal products can lose all their wheels so, unless they are made of different ones.
    const canBeBuilt = exclusive
      ? (numerator: number, denominator: number) => numerator !== denominator || numerator === repeated
      : () => true
    searchStages(value, driving, driven, index + 1, nearest, canBeBuilt, work)
  }
  const ordered = [...nearest.all()].sort((a, b) => nearer(a, b, target)).slice(0, most)
  if (ordered.length === 0) {
    throw new DomainError(
      'too-few-wheels',
      'teeth: no pair of wheels can be built from this list; a stage needs two wheels, so list a count twice when there are two of it, or leave eachOnce out',
      { pointer: '/teeth' },
    )
  }
  const trains = ordered.map((candidate) => ({
    meshes: bestTrainOf(candidate, limits, tables, work),
    ratio: ratioOf(candidate.numerator, candidate.denominator),
    relativeError: exactError(candidate.numerator, candidate.denominator, target),
  }))
  return {
    trains,
    searched,
    sources: ['definitions', 'gear-approximation', 'hunting-tooth'],
    notes: notesOn(trains),
  }
}

/**
 * Fewest stages in which wheels give a ratio exactly.
 *
 *     least s with N/D = ratio
 *
 * N is a product of s driving wheels, D one of s driven wheels.
 *
 * @param ratio - Ratio, in lowest terms
 * @param limits - Stages and wheels
 * @param tables - Products of the wheels
 * @returns Number of stages, or undefined when no train within the limits has that ratio
 * @see the fundamental theorem of arithmetic: a train exists only when the factors fit the wheels
 * @example fewestStages(ratioOf(25, 3), { stages: 2, driving: wheelSet([20, 25, 50], false), driven: wheelSet([10, 12], false), most: 1 }) // 2 ± 0
 */
export function fewestStages(
  ratio: ExactRatio,
  limits: TrainLimits,
  tables: ProductTables = productTables(limits.driving, limits.driven, limits.stages),
): number | undefined {
  const numerator = Number(ratio.n)
  const denominator = Number(ratio.d)
  for (const [index, table] of tables.entries()) {
    const { repeated } = table
    // As in the search: only the ratio 1 may be of products that no two sets of wheels make.
    const isFound =
      isExclusive(limits) && numerator === denominator
        ? Number.isFinite(repeated)
        : !productsOf({ numerator, denominator }, table).next().done
    if (isFound) return index + 1
  }
  return undefined
}

const holds = (ascending: Int32Array, wanted: number) =>
  ascending[firstNotBelow(ascending, wanted)] === wanted

function firstNotBelow(ascending: Int32Array, wanted: number): number {
  let low = 0
  let high = ascending.length
  while (low < high) {
    const middle = (low + high) >> 1
    if (ascending[middle]! < wanted) low = middle + 1
    else high = middle
  }
  return low
}

const gcd = (a: number, b: number): number => (b === 0 ? a : gcd(b, a % b))

/**
 * Two wheels in mesh, and how evenly they wear.
 *
 *     hunting when gcd(driving, driven) = 1;  the same teeth meet again after driven/gcd turns of the driving wheel
 *
 * @param driving - Teeth of the driving wheel. [>= 1]
 * @param driven - Teeth of the driven wheel. [>= 1]
 * @returns The mesh
 * @see hunting tooth: mesh pairs prime to each other wear evenly (textbooks of machine design)
 * @example mesh(20, 50).repeatTurns // 5 ± 0
 * @example mesh(19, 50).hunting // true
 */
export function mesh(driving: number, driven: number): Mesh {
  const common = gcd(driving, driven)
  return { driving, driven, hunting: common === 1, repeatTurns: driven / common }
}

const huntingPairs = (meshes: readonly Mesh[]) => meshes.filter((one) => one.hunting).length

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

/** Greatest common divisors of any two counts, by the algorithm of Euclid: row and column. */
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

/** Driving wheels, driven wheels, and which of these meets each of those. */
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
 * The best way to pair driving with driven wheels, over all ways to make the two products: most hunting pairs, least steep stage,
 * fewest teeth, then by the counts themselves.
 *
 * @param ups - Ways to make the driving product
 * @param downs - Ways to make the driven product
 * @param shelf - What the wheels of both must be on together, if anything
 * @param least - Fewest hunting pairs that are worth anything
 */
function bestMeshes(
  ups: readonly (readonly number[])[],
  downs: readonly (readonly number[])[],
  shelf: WheelSet | undefined,
  least: number,
): readonly Mesh[] | undefined {
  let best: Pairing | undefined
  let [bestHunting, bestSteepness, bestTeeth] = [least, 0, 0]
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

function notesOn(trains: readonly Train[]): Note[] {
  const notes: Note[] = [
    {
      code: 'pair-turns-about',
      level: 'info',
      text: 'Each pair of outside teeth turns the other way round: a train of one or three stages reverses the shaft, one of two does not. A flexible shaft takes torque in one hand only.',
    },
  ]
  if (trains.some(({ meshes }) => meshes.some(({ hunting }) => !hunting))) {
    notes.push({
      code: 'teeth-meet-again-early',
      level: 'info',
      text: 'Where two wheels share a factor the same teeth meet again and again, and a bad tooth marks always the same ones; wheels prime to each other wear evenly.',
    })
  }
  return notes
}
