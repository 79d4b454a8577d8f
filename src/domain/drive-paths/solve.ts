import { DomainError } from '../errors.js'
import { type Approximation, nearestRatios, ratioOfComputed } from '../measure/approximation.js'
import { SearchWork } from '../measure/search-work.js'
import { BestSolutions, type Choice, type Solution } from './best-solutions.js'
import { type Aim, bestSlope, ROUNDING } from './judgment.js'

/** Wheels at hand: those on the side of the road wheel, and those on the side of the dial. */
export interface Wheels {
  readonly driving: readonly number[]
  readonly driven: readonly number[]
}

/** Ratios at hand. */
export interface Ratios {
  readonly ratios: readonly number[]
}

/** Ratios of whole numbers up to a largest one. */
export interface WholeNumbers {
  readonly maxTerm: number
}

/** What may be fitted in an open stage. */
export type Find = Wheels | Ratios | WholeNumbers | 'exact'

export interface Solved {
  readonly solutions: readonly Solution[]
  readonly searched: number
}

/** Number of nearest whole-number ratios tried for one stage. */
const TRIED_APPROXIMATIONS = 6

/** Number of simple ratios tried for all open whole-number stages before the last, together. */
const MAX_SIMPLE = 5_000

/** Maximum number of whole-number stages before the last that try more than the nearest ratio. */
const MAX_VARIED = 3

/** Maximum number of combinations of the other stages for which the last one takes the remaining ratio: each costs a continued fraction. */
const MAX_LEFT_OVER = 12_500

/** Cost in steps of work: of a continued fraction, a judged candidate, a sorted ratio, and a product with its combinations. */
const CONTINUED_FRACTION = 100
const JUDGED = 10
const LISTED = 5
const MERGED = 20

/** Maximum number of products of several listed stages that are sorted together. */
const MAX_MERGED = 8_192

/** Ratios of whole numbers, simplest first, up to a maximum count; ratios of equal largest term are all included or all left out. */
function simpleRatios(maxCount: number): Required<Choice>[] {
  const found: Required<Choice>[] = []
  // Equal ratios give the same quotient; the one in lowest terms comes first.
  const seen = new Set<number>()
  for (let larger = 1; ; larger++) {
    const next: Required<Choice>[] = []
    for (let smaller = 1; smaller <= larger; smaller++) {
      if (seen.has(smaller / larger)) continue
      seen.add(smaller / larger)
      next.push({ ratio: smaller / larger, numerator: smaller, denominator: larger })
      if (larger > 1) next.push({ ratio: larger / smaller, numerator: larger, denominator: smaller })
    }
    if (found.length + next.length > maxCount) return found
    found.push(...next)
  }
}

/** A stage with a list of candidates. */
interface ListedStage {
  readonly index: number
  readonly find: Wheels | Ratios
  /** The distinct ratios available, ascending. */
  readonly ratios: Float64Array
}

function listed(index: number, find: ListedStage['find'], work: SearchWork): ListedStage {
  const { driving, driven } =
    'driving' in find ? find : { driving: find.ratios, driven: [1] as readonly number[] }
  const ratios = new Float64Array(lengthOf(find))
  work.spend(ratios.length * LISTED)
  let at = 0
  for (const numerator of driving) for (const denominator of driven) ratios[at++] = numerator / denominator
  ratios.sort()
  return { index, find, ratios: ratios.filter((ratio, i) => i === 0 || ratio !== ratios[i - 1]) }
}

/** Ratios or gear pairs that a stage lists. */
function lengthOf(find: Find): number {
  if (find === 'exact' || 'maxTerm' in find) return 1
  return 'driving' in find ? find.driving.length * find.driven.length : find.ratios.length
}

/** The choice of a listed stage with a given ratio; among gear pairs the one with the fewest teeth. */
function choiceOf({ find }: ListedStage, ratio: number): Choice {
  if ('ratios' in find) return { ratio }
  let best: Required<Choice> | undefined
  for (const numerator of find.driving) {
    const denominator = Math.round(numerator / ratio)
    if (numerator / denominator !== ratio || !find.driven.includes(denominator)) continue
    if (best === undefined || numerator < best.numerator) best = { ratio, numerator, denominator }
  }
  return best!
}

/**
 * Fills the open stages of a path so that the head reads as aimed.
 *
 *     error = (known · Π chosen) / exact − 1, where exact is the product at which the head reads true
 *
 * Listed stages are searched exactly, by meet in the middle: the products of some and the products of the others are two ascending lists, and
 * for each product of one list the search goes outward in the other from the optimum, until nothing better is left.
 * A whole-number stage takes the ratios nearest to the remaining ratio; an exact stage takes the remaining ratio. Of several whole-number stages each
 * but the last also tries every simple ratio: with two, all up to terms of about 90. Of more than four the first ones take
 * the nearest ratio alone, and so do those that would make more than 12 500 combinations.
 *
 * @param exactProduct - Product of the open stages at which the head reads true
 * @param finds - What may be fitted in each open stage, in path order, at least one
 * @param aim - Minimum and maximum over-reading aimed for, as fractions
 * @param maxSolutions - Maximum number of solutions
 * @param places - Index of each open stage in its path, for error pointers; default: 0, 1, …
 * @returns Solutions, best first: within the aim and nearest to true, then over-reading, then under-reading
 * @throws {DomainError} `no-open-stage`, `search-too-large`, `aim-crossed`
 * @see US Army TM 5-3820-256-24-4 (a new final drive or tire size needs a new adapter, sometimes a new driven gear)
 * @example solveStages(0.35, [{ driving: [7], driven: [19, 20, 21] }], { minFraction: 0, maxFraction: 0.04 }, 3).solutions[0].choices[0].denominator // 20 ± 0
 */
export function solveStages(
  exactProduct: number,
  finds: readonly Find[],
  aim: Aim,
  maxSolutions: number,
  places: readonly number[] = finds.map((_, index) => index),
): Solved {
  if (finds.length === 0)
    throw new DomainError(
      'no-open-stage',
      'stages: none has find instead of its ratio; give find to the stage to be found',
      {
        pointer: '/stages',
      },
    )
  if (aim.minFraction > aim.maxFraction) {
    throw new DomainError('aim-crossed', 'aim.overReadPercent: min lies above max', {
      pointer: '/aim/overReadPercent',
    })
  }
  const [widest] = finds
    .map((find, index) => ({ index, length: lengthOf(find) }))
    .sort((a, b) => b.length - a.length)
  const work =
    widest!.length === 1
      ? new SearchWork('stages', 'give fewer stages with find', '/stages')
      : new SearchWork(
          'find',
          'give fewer gears or ratios here, or open fewer stages',
          `/stages/${places[widest!.index]}/find`,
        )
  const lists: ListedStage[] = []
  const free: FreeStage[] = []
  for (const [index, find] of finds.entries()) {
    if (find === 'exact' || 'maxTerm' in find) free.push({ index, find })
    else lists.push(listed(index, find, work))
  }
  lists.sort((a, b) => a.ratios.length - b.ratios.length)
  // An exact stage takes up the whole remainder, so it comes last.
  free.sort((a, b) => Number(a.find === 'exact') - Number(b.find === 'exact'))
  const runs = runsOf(aim, exactProduct)
  const best = new BestSolutions(aim, exactProduct, maxSolutions)
  if (free.length === 0) searchLists(lists, runs, best, work)
  else searchFree(lists, free, runs[0]!.from, best, work)
  const solutions = best.sorted()
  for (const stage of lists)
    for (const { choices } of solutions) choices[stage.index] = choiceOf(stage, choices[stage.index]!.ratio)
  return { solutions, searched: best.offered }
}

/** A range of products of the open stages along which candidates only get worse: from the best (included in an ascending run) to the last (excluded). */
interface Run {
  readonly from: number
  readonly to: number
}

/** The runs of an aim: down and up from the optimum, and up from true where the aim lies below it, since over-reading ranks before under-reading. */
function runsOf(aim: Aim, exactProduct: number): readonly Run[] {
  const best = bestSlope(aim) * exactProduct
  const neverUnder = (1 - (aim.offset?.minFraction ?? 0) - ROUNDING) * exactProduct
  const down = { from: best, to: 0 }
  return neverUnder > best
    ? [down, { from: best, to: neverUnder }, { from: neverUnder, to: Number.POSITIVE_INFINITY }]
    : [down, { from: best, to: Number.POSITIVE_INFINITY }]
}

/** All combinations of some listed stages, by ascending product. */
interface Ways {
  readonly stages: readonly ListedStage[]
  readonly products: Float64Array
  /** Code of the combination: one mixed-radix digit per stage. */
  readonly ways: Float64Array
}

const NO_STAGES: Ways = { stages: [], products: Float64Array.of(1), ways: Float64Array.of(0) }

/** Combinations with one more stage. */
function withStage({ stages, products, ways }: Ways, stage: ListedStage, work: SearchWork): Ways {
  const { ratios } = stage
  const total = products.length * ratios.length
  // A single stage is already sorted.
  if (stages.length === 0)
    return { stages: [stage], products: ratios, ways: Float64Array.from(ratios.keys()) }
  work.spend(total * MERGED)
  const made = new Float64Array(total)
  const order = new Uint32Array(total)
  for (let i = 0; i < total; i++) {
    made[i] = products[Math.floor(i / ratios.length)]! * ratios[i % ratios.length]!
    order[i] = i
  }
  order.sort((a, b) => made[a]! - made[b]!)
  return {
    stages: [...stages, stage],
    products: Float64Array.from(order, (i) => made[i]!),
    ways: Float64Array.from(
      order,
      (i) => ways[Math.floor(i / ratios.length)]! * ratios.length + (i % ratios.length),
    ),
  }
}

/** Writes the choices of a combination into their stages. */
function choose({ stages, ways }: Ways, which: number, chosen: Choice[]): void {
  let rest = ways[which]!
  for (let i = stages.length - 1; i >= 0; i--) {
    const { index, ratios } = stages[i]!
    chosen[index] = { ratio: ratios[rest % ratios.length]! }
    rest = Math.floor(rest / ratios.length)
  }
}

/** Calls back with every combination of some listed stages, and its product. */
function eachWay(
  stages: readonly ListedStage[],
  chosen: Choice[],
  call: (product: number) => void,
  position = 0,
  product = 1,
): void {
  const stage = stages[position]
  if (stage === undefined) {
    call(product)
    return
  }
  for (const ratio of stage.ratios) {
    chosen[stage.index] = { ratio }
    eachWay(stages, chosen, call, position + 1, product * ratio)
  }
}

/** Index of the first of ascending values that is not below a target; fast when it is near the starting index. */
function firstNotBelow(values: Float64Array, wanted: number, near = 0): number {
  let [low, high, width] = [near, near, 1]
  while (low > 0 && values[low - 1]! >= wanted) {
    high = low - 1
    low = Math.max(0, low - width)
    width *= 2
  }
  while (high < values.length && values[high]! < wanted) {
    low = high + 1
    high = Math.min(values.length, high + width)
    width *= 2
  }
  while (low < high) {
    const middle = (low + high) >> 1
    if (values[middle]! < wanted) low = middle + 1
    else high = middle
  }
  return low
}

/** Offers all combinations of listed stages that can be among the best, the longest list last. */
function searchLists(
  lists: readonly ListedStage[],
  runs: readonly Run[],
  best: BestSolutions,
  work: SearchWork,
): void {
  let [few, many] = [NO_STAGES, NO_STAGES]
  const outer: ListedStage[] = []
  for (const stage of lists.toReversed()) {
    if (few.stages.length === 0 || few.products.length * stage.ratios.length <= MAX_MERGED) {
      few = withStage(few, stage, work)
      if (few.products.length > many.products.length) [few, many] = [many, few]
    } else outer.push(stage)
  }
  // Each product of the few is looked up in the many, once for each combination of the others and each run.
  const combinations = outer.reduce((total, { ratios }) => total * ratios.length, 1)
  work.spend(combinations * runs.length * few.products.length)
  const { products } = many
  const medianProduct = products[products.length >> 1]!
  const chosen: Choice[] = []
  // Once a product of a run cannot be among the best, no product beyond it can.
  const limits = runs.map(({ to }) => to)

  eachWay(outer, chosen, (outerProduct) => {
    for (const [which, { from, to }] of runs.entries()) {
      const step = to > from ? 1 : -1
      let split = 0
      const outward = (i: number) => {
        const product = outerProduct * few.products[i]!
        split = firstNotBelow(products, from / product, split)
        for (let j = step > 0 ? split : split - 1; j >= 0 && j < products.length; j += step) {
          const whole = product * products[j]!
          if (step * (whole - limits[which]!) >= 0) return
          choose(few, i, chosen)
          choose(many, j, chosen)
          work.spend(JUDGED)
          if (!best.offer(whole, chosen)) {
            limits[which] = whole
            return
          }
        }
      }
      // Outward from the optimum for the median product of the others: early good solutions prune the rest.
      const start = firstNotBelow(few.products, from / (outerProduct * medianProduct))
      for (let i = start; i < few.products.length; i++) outward(i)
      split = 0
      for (let i = start - 1; i >= 0; i--) outward(i)
    }
  })
}

/** A stage that takes the remaining ratio. */
interface FreeStage {
  readonly index: number
  readonly find: WholeNumbers | 'exact'
}

/** For every combination of listed stages, offers the whole-number and exact stages that best make up the remaining ratio. */
function searchFree(
  lists: readonly ListedStage[],
  free: readonly FreeStage[],
  wantedProduct: number,
  best: BestSolutions,
  work: SearchWork,
): void {
  const combinations = lists.reduce((total, { ratios }) => total * ratios.length, 1)
  const before = free.length - 1
  const isMadeUpFor = free.at(-1)!.find === 'exact'
  // Stages that try more than the nearest ratio: the last ones, as many as the work limit allows.
  let varied = Math.min(before, MAX_VARIED)
  const simple = varied > 0 && !isMadeUpFor ? simpleRatios((MAX_SIMPLE / combinations) ** (1 / varied)) : []
  while (varied > 0 && combinations * (TRIED_APPROXIMATIONS + simple.length) ** varied > MAX_LEFT_OVER)
    varied--
  const chosen: Choice[] = []

  const fill = (position: number, left: number, product: number): void => {
    if (best.isPerfect) return
    const open = free[position]
    if (open === undefined) {
      best.offer(product, chosen)
      return
    }
    const others = before - position
    // Open whole-number stages share the remaining ratio: each but the last takes a ratio near its root.
    const wanted = others === 0 ? left : left ** (1 / (others + 1))
    work.spend(open.find === 'exact' ? 1 : CONTINUED_FRACTION)
    const near = freeChoices(open.find, wanted)
    if (others > varied) near.length = 1
    else if (others > 0 && open.find !== 'exact') {
      const { maxTerm } = open.find
      const known = new Set(near.map(({ ratio }) => ratio))
      for (const choice of simple) {
        if (Math.max(choice.numerator, choice.denominator) > maxTerm) break
        if (!known.has(choice.ratio)) near.push(choice)
      }
    }
    for (const choice of near) {
      chosen[open.index] = choice
      fill(position + 1, left / choice.ratio, product * choice.ratio)
    }
  }

  eachWay(lists, chosen, (product) => {
    work.spend(1)
    fill(0, wantedProduct / product, product)
  })
}

function freeChoices(find: WholeNumbers | 'exact', wanted: number): Choice[] {
  if (find === 'exact') return [{ ratio: wanted }]
  return nearestRatios(ratioOfComputed(wanted), find.maxTerm)
    .slice(0, TRIED_APPROXIMATIONS)
    .map(({ numerator, denominator }: Approximation) => ({
      ratio: numerator / denominator,
      numerator,
      denominator,
    }))
}
