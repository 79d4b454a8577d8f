import { DomainError } from '../errors.js'
import { infoNote, type Note } from '../measure/notes.js'
import { type ExactRatio, ratioOf } from '../measure/ratio.js'
import { SearchWork } from '../measure/search-work.js'
import type { SourceId } from '../measure/sources.js'
import { bestMeshes, gcd, huntingPairs, type Mesh } from './meshes.js'
import { type Candidate, exactError, firstNotBelow, Nearest, nearer, searchStages } from './nearest.js'
import { type ProductTables, productTables, type WheelSet, waysToMake } from './wheels.js'

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

/** Work for a pairing of wheels. */
const PAIRED = 10

/** Maximum work of a search: four times that for 200 wheels in three stages on either side. */
const MAX_WORK = 20_000_000

/** Whether a wheel can be used only once over both sides. */
const isExclusive = ({ driving, driven }: TrainLimits) => driving === driven && driving.eachOnce

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

function notesOn(trains: readonly Train[]): Note[] {
  const notes: Note[] = [
    infoNote(
      'pair-turns-about',
      'Each external gear pair reverses the direction of rotation: a train of one or three stages reverses the shaft, one of two does not. A flexible shaft transmits torque in one direction only.',
    ),
  ]
  if (trains.some(({ meshes }) => meshes.some(({ hunting }) => !hunting))) {
    notes.push(
      infoNote(
        'teeth-meet-again-early',
        'If two tooth counts share a factor, the same teeth meet again and again, and a damaged tooth always marks the same ones; coprime tooth counts wear evenly.',
      ),
    )
  }
  return notes
}
