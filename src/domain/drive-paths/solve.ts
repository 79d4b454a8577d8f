import { DomainError } from '../errors.js'
import { type Approximation, nearestRatios, ratioOfComputed } from '../measure/approximation.js'
import { type Aim, bestSlope, judgeSlope, type Merit, meritOf } from './judgment.js'

/** What may stand in the place of an open stage. */
export type Find =
  | { readonly by: 'teeth'; readonly driving: readonly number[]; readonly driven: readonly number[] }
  | { readonly by: 'ratios'; readonly ratios: readonly number[] }
  | { readonly by: 'max-term'; readonly maxTerm: number }
  | { readonly by: 'exact' }

/** What was put in the place of an open stage. */
export interface Choice {
  readonly ratio: number
  readonly numerator?: number
  readonly denominator?: number
}

export interface Solution {
  /** One choice an open stage, in path order. */
  readonly choices: readonly Choice[]
  /** Indicated over true, minus one, at the judged speed where it is farthest from none. */
  readonly errorFraction: number
  readonly withinAim: boolean
}

export interface Solved {
  readonly solutions: readonly Solution[]
  readonly searched: number
}

/** Most combinations of all listed stages but the longest list: about a second of work. */
const MOST_COMBINATIONS = 1_000_000

/** Nearest whole-number ratios that are tried for one stage. */
const TRIED_APPROXIMATIONS = 6

/** Simple ratios that are tried for all open whole-number stages before the last, together: some hundredths of a second of work. */
const MOST_SIMPLE = 5_000

/** Ratios of whole numbers, simplest first, no more than so many; with terms up to a number that all of one size fit in. */
function simpleRatios(most: number): Required<Choice>[] {
  const found: Required<Choice>[] = []
  // Equal ratios divide to the same number, so one in its lowest terms is the first of them.
  const seen = new Set<number>()
  for (let larger = 1; ; larger++) {
    const next: Required<Choice>[] = []
    for (let smaller = 1; smaller <= larger; smaller++) {
      if (seen.has(smaller / larger)) continue
      seen.add(smaller / larger)
      next.push({ ratio: smaller / larger, numerator: smaller, denominator: larger })
      if (larger > 1) next.push({ ratio: larger / smaller, numerator: larger, denominator: smaller })
    }
    if (found.length + next.length > most) return found
    found.push(...next)
  }
}

/** Every choice of a listed stage, one a distinct ratio, ascending. The pair with the fewest teeth stands for its ratio. */
function listed(find: Extract<Find, { by: 'teeth' | 'ratios' }>): Choice[] {
  if (find.by === 'ratios') return [...new Set(find.ratios)].sort((a, b) => a - b).map((ratio) => ({ ratio }))
  const byRatio = new Map<number, Required<Choice>>()
  for (const numerator of find.driving) {
    for (const denominator of find.driven) {
      const ratio = numerator / denominator
      const known = byRatio.get(ratio)
      if (known === undefined || numerator < known.numerator)
        byRatio.set(ratio, { ratio, numerator, denominator })
    }
  }
  return [...byRatio.values()].sort((a, b) => a.ratio - b.ratio)
}

/**
 * Fills the open stages of a path so that the head reads as aimed at every judged speed.
 *
 *     error = (known · Π chosen) / exact − 1 + a/V
 *
 * exact is the product at which the head reads true apart from its offset a, V a judged true speed.
 *
 * Listed stages are searched exactly: every combination of all but the longest list, and in that list, sorted, the nearest on both sides.
 * A stage of whole numbers takes the nearest ratios to what is left; an exact stage takes what is left. Of several stages of whole numbers each but
 * the last also takes every simple ratio: with two, all up to terms of about 90.
 *
 * @param exactProduct - Product of the open stages at which the head reads true, apart from its offset
 * @param finds - What may stand in each open stage, in path order, at least one
 * @param aim - Least and most over-reading wanted, as fractions, and what the offset of the head adds at the judged speeds
 * @param most - Most solutions to return
 * @returns Solutions, best first: within the aim and nearest to true, then over-reading, then under-reading
 * @throws {DomainError} `nothing-to-find`, `search-too-large`, `aim-crossed`
 * @see US Army TM 5-3820-256-24-4 (a new final drive or tire size needs a new adapter, sometimes a new driven gear)
 * @example solveStages(0.35, [{ by: 'teeth', driving: [7], driven: [19, 20, 21] }], { minFraction: 0, maxFraction: 0.04 }, 3).solutions[0].choices[0].denominator // 20 ± 0
 */
export function solveStages(exactProduct: number, finds: readonly Find[], aim: Aim, most: number): Solved {
  if (finds.length === 0)
    throw new DomainError('nothing-to-find', 'stages: none has find in place of its ratio', {
      pointer: '/stages',
    })
  if (aim.minFraction > aim.maxFraction) {
    throw new DomainError('aim-crossed', 'aim.overReadPercent: min lies above max', {
      pointer: '/aim/overReadPercent',
    })
  }
  const lists = finds.flatMap((find, index) =>
    find.by === 'teeth' || find.by === 'ratios' ? [{ index, choices: listed(find) }] : [],
  )
  const free = finds.flatMap((find, index) =>
    find.by === 'max-term' || find.by === 'exact' ? [{ index, find }] : [],
  )
  // What is exact makes up for all else, so it comes last.
  free.sort((a, b) => Number(a.find.by === 'exact') - Number(b.find.by === 'exact'))
  // The longest list is not enumerated when nothing free follows: its best members are found by halving.
  lists.sort((a, b) => a.choices.length - b.choices.length)
  const halved = free.length === 0 ? lists.pop() : undefined
  const combinations = lists.reduce((total, { choices }) => total * choices.length, 1)
  if (combinations > MOST_COMBINATIONS || (free.length > 0 && combinations > MOST_COMBINATIONS / 100)) {
    throw new DomainError(
      'search-too-large',
      `stages: ${combinations} combinations; at most ${free.length > 0 ? MOST_COMBINATIONS / 100 : MOST_COMBINATIONS} are searched`,
      {
        pointer: '/stages',
        combinations,
      },
    )
  }

  const before = free.some(({ find }) => find.by === 'exact') ? 0 : free.length - 1
  const simple = before > 0 ? simpleRatios((MOST_SIMPLE / combinations) ** (1 / before)) : []

  const kept = new BestSolutions(aim, most)
  const wantedProduct = bestSlope(aim) * exactProduct
  const chosen: Choice[] = new Array(finds.length)
  let searched = 0

  const consider = (productSoFar: number) => {
    searched++
    kept.offer(productSoFar / exactProduct, chosen)
  }

  const fillFree = (position: number, left: number, productSoFar: number): void => {
    const open = free[position]
    if (open === undefined) {
      consider(productSoFar)
      return
    }
    const others = free.length - position - 1
    // Open whole-number stages share what is left: each but the last takes a near root of it.
    const wanted = others === 0 ? left : left ** (1 / (others + 1))
    const near = freeChoices(open.find, wanted)
    if (others > 0 && open.find.by === 'max-term') {
      const { maxTerm } = open.find
      for (const choice of simple) {
        if (Math.max(choice.numerator, choice.denominator) > maxTerm) break
        if (!near.some(({ ratio }) => ratio === choice.ratio)) near.push(choice)
      }
    }
    for (const choice of near) {
      chosen[open.index] = choice
      fillFree(position + 1, left / choice.ratio, productSoFar * choice.ratio)
    }
  }

  const fillHalved = (productSoFar: number): void => {
    const { index, choices } = halved!
    const target = wantedProduct / productSoFar
    let low = 0
    let high = choices.length
    while (low < high) {
      const middle = (low + high) >> 1
      if (choices[middle]!.ratio < target) low = middle + 1
      else high = middle
    }
    for (let i = Math.max(0, low - most); i < Math.min(choices.length, low + most); i++) {
      chosen[index] = choices[i]!
      consider(productSoFar * choices[i]!.ratio)
    }
  }

  const fillLists = (position: number, productSoFar: number): void => {
    const list = lists[position]
    if (list === undefined) {
      if (halved === undefined) fillFree(0, wantedProduct / productSoFar, productSoFar)
      else fillHalved(productSoFar)
      return
    }
    for (const choice of list.choices) {
      chosen[list.index] = choice
      fillLists(position + 1, productSoFar * choice.ratio)
    }
  }

  fillLists(0, 1)
  return { solutions: kept.sorted(), searched }
}

function freeChoices(find: Extract<Find, { by: 'max-term' | 'exact' }>, wanted: number): Choice[] {
  if (find.by === 'exact') return [{ ratio: wanted }]
  return nearestRatios(ratioOfComputed(wanted), find.maxTerm)
    .slice(0, TRIED_APPROXIMATIONS)
    .map(({ numerator, denominator }: Approximation) => ({
      ratio: numerator / denominator,
      numerator,
      denominator,
    }))
}

/** Keeps the best few solutions of a search of any length. */
class BestSolutions {
  private readonly entries: Array<{ rank: Merit; solution: Solution }> = []
  private readonly aim: Aim
  private readonly most: number

  constructor(aim: Aim, most: number) {
    this.aim = aim
    this.most = most
  }

  offer(slope: number, choices: readonly Choice[]): void {
    const judgment = judgeSlope(slope, this.aim)
    const key = meritOf(judgment, this.aim)
    const last = this.entries[this.most - 1]
    if (last !== undefined && compare(key, last.rank) >= 0) return
    const { errorFraction, withinAim } = judgment
    const solution = { choices: [...choices], errorFraction, withinAim }
    let at = this.entries.length
    while (at > 0 && compare(key, this.entries[at - 1]!.rank) < 0) at--
    this.entries.splice(at, 0, { rank: key, solution })
    if (this.entries.length > this.most) this.entries.pop()
  }

  sorted(): Solution[] {
    return this.entries.map(({ solution }) => solution)
  }
}

const compare = (a: Merit, b: Merit) => a[0] - b[0] || a[1] - b[1]
