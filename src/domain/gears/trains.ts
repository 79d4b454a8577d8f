import { DomainError } from '../errors.js'
import type { Note } from '../measure/notes.js'
import { type ExactRatio, ratioOf } from '../measure/ratio.js'
import { SearchWork } from '../measure/search-work.js'
import type { SourceId } from '../measure/sources.js'
import { MAX_TEETH, type ProductTables, productTables, type WheelSet, waysToMake } from './wheels.js'

/** Limits of a search for trains. */
export interface TrainLimits {
  /** Maximum number of stages; trains with fewer stages are searched too. [1 .. 3] */
  readonly stages: number
  readonly driving: WheelSet
  /** If this is the same object as `driving`, both sides share one shelf: with `eachOnce`, a wheel cannot be on both sides. */
  readonly driven: WheelSet
  /** Maximum number of trains to return, each with a different ratio. [1 .. 200] */
  readonly maxTrains: number
}

/** Two wheels in mesh. */
export interface Mesh {
  readonly driving: number
  readonly driven: number
  /** Coprime tooth counts: every tooth meets every tooth of the other wheel before any pair meets again. */
  readonly hunting: boolean
  /** Turns of the driving wheel until the same two teeth meet again. */
  readonly repeatTurns: number
}

export interface Train {
  readonly meshes: readonly Mesh[]
  /** Turns of the last wheel per turn of the first, in lowest terms. */
  readonly ratio: ExactRatio
  /** Ratio over target, minus one; zero only if exact. */
  readonly relativeError: number
}

export interface TrainSearch {
  /** Best first; all with different ratios. */
  readonly trains: readonly Train[]
  /** Number of pairs of a driving and a driven product covered by the search. */
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
 * The nearest ratios of a search: the wanted number, plus those that floating point cannot order relative to the last of
 * them. Distinct ratios of products up to 400³ differ by at least 2.4e-16, so these are few.
 */
class Nearest {
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

/** Maximum work of a search: four times that for 200 wheels in three stages on either side. */
const MAX_WORK = 20_000_000

/** Work for a pair of products that may be among the nearest, and for a pairing of wheels. */
const OFFERED = 5
const PAIRED = 10

/** Number of evenly spaced driven products searched first: they give an upper bound of the error. */
const FIRST_LOOK = 64

/** Offers every pair of products near the target: for each driven product, outward from the matching driving product. */
function searchStages(
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

/** Whether a wheel can be used only once over both sides. */
const isExclusive = ({ driving, driven }: TrainLimits) => driving === driven && driving.eachOnce

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

/** Maximum number of product pairs of one ratio searched for coprime wheels: bounds the time if there are none. */
const MAX_PRODUCTS = 50

/** Cost of looking up a product, in sequential reads. */
const LOOK_UP = 16

/** Pairs of products with a given ratio, ascending. */
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

/** Preferred train with a candidate's ratio and number of stages: most hunting pairs, then the first product. */
function bestTrainOf(
  candidate: Candidate,
  limits: TrainLimits,
  tables: ProductTables,
  work: SearchWork,
): readonly Mesh[] {
  const { stages } = candidate
  let best: readonly Mesh[] | undefined
  let searched = 0
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
    searched++
    if (meshes !== undefined) best = meshes
    if (best !== undefined && (huntingPairs(best) === stages || searched >= MAX_PRODUCTS)) break
  }
  return best!
}

/**
 * Best trains for a ratio with given wheels: an exact search, not only the convergents.
 *
 *     r = Π drivingᵢ / Π drivenᵢ,   minimize |r/target − 1|
 *
 * Meet in the middle: the distinct products of the driving wheels and of the driven wheels are two ascending lists, and one pass finds every pair
 * closer than the worst one retained. 12 to 60 teeth in three stages are 4·10⁸ trains, but two lists of some 10⁴. Ratios are compared in whole
 * numbers, so order and exactness do not depend on rounding. Each ratio is shown by one train: fewest stages, then most hunting pairs, then
 * smallest product (up to 50 products of the ratio are searched), then the least steep stages.
 *
 * @param target - Turns of the last wheel per turn of the first, exact. [1e-6 .. 1e6]
 * @param limits - Stages, wheels, how many to return
 * @param tables - Products of the wheels, if already computed
 * @returns Trains, best first
 * @throws {DomainError} `too-few-wheels` if no train can be built from the shelf, `search-too-large`
 * @see Brocot, A. (1861), Calcul des rouages par approximation; Stern (1858)
 * @example bestTrains(ratioOf(191, 23), { stages: 1, driving: wheelSet([191, 83, 25], false), driven: wheelSet([23, 10, 3], false), maxTrains: 1 }).trains[0].relativeError // 0 ± 0
 */
export function bestTrains(
  target: ExactRatio,
  limits: TrainLimits,
  tables: ProductTables = productTables(limits.driving, limits.driven, limits.stages),
): TrainSearch {
  const { maxTrains } = limits
  const value = target.valueOf()
  const nearest = new Nearest(maxTrains)
  const exclusive = isExclusive(limits)
  const work = new SearchWork('teeth', 'give fewer wheels, or fewer stages', '/teeth', MAX_WORK)
  let searched = 0
  for (const [index, { driving, driven, repeated }] of tables.entries()) {
    searched += driving.length * driven.length
    // A wheel shared by both products cancels: such a ratio has a train with fewer stages, found before. Only equal products can
    // cancel completely, unless two different sets of wheels make them.
    const canBeBuilt = exclusive
      ? (numerator: number, denominator: number) => numerator !== denominator || numerator === repeated
      : () => true
    searchStages(value, driving, driven, index + 1, nearest, canBeBuilt, work)
  }
  const ordered = [...nearest.all()].sort((a, b) => nearer(a, b, target)).slice(0, maxTrains)
  if (ordered.length === 0) {
    throw new DomainError(
      'too-few-wheels',
      'teeth: no pair of wheels can be built from this list; a stage needs two wheels, so list a count twice if you have two of it, or leave eachOnce out',
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
 * Minimum number of stages in which wheels give a ratio exactly.
 *
 *     smallest s with N/D = ratio
 *
 * N is a product of s driving wheels, D one of s driven wheels.
 *
 * @param ratio - Ratio, in lowest terms
 * @param limits - Stages and wheels
 * @param tables - Products of the wheels
 * @returns Number of stages, or undefined if no train within the limits has that ratio
 * @see the fundamental theorem of arithmetic: a train exists only if the factors fit the wheels
 * @example fewestStages(ratioOf(25, 3), { stages: 2, driving: wheelSet([20, 25, 50], false), driven: wheelSet([10, 12], false), maxTrains: 1 }) // 2 ± 0
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
    // As in the search: only for ratio 1 must two different sets of wheels make the product.
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
 * The best pairing of driving with driven wheels, over all ways to make the two products: most hunting pairs, least steep stage,
 * fewest teeth, then by the counts themselves.
 *
 * @param ups - Ways to make the driving product
 * @param downs - Ways to make the driven product
 * @param shelf - Shelf that must have the wheels of both sides together, if any
 * @param minHunting - Minimum number of hunting pairs
 */
function bestMeshes(
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

function notesOn(trains: readonly Train[]): Note[] {
  const notes: Note[] = [
    {
      code: 'pair-turns-about',
      level: 'info',
      text: 'Each external gear pair reverses the direction of rotation: a train of one or three stages reverses the shaft, one of two does not. A flexible shaft transmits torque in one direction only.',
    },
  ]
  if (trains.some(({ meshes }) => meshes.some(({ hunting }) => !hunting))) {
    notes.push({
      code: 'teeth-meet-again-early',
      level: 'info',
      text: 'If two tooth counts share a factor, the same teeth meet again and again, and a damaged tooth always marks the same ones; coprime tooth counts wear evenly.',
    })
  }
  return notes
}
