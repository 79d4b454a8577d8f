import { DomainError } from '../errors.js'

/** Wheels available for the driving or the driven side of a train. */
export interface WheelSet {
  /** Tooth counts, ascending. With `eachOnce`, each entry is one wheel, so equal entries are several wheels. */
  readonly teeth: readonly number[]
  readonly eachOnce: boolean
  /** Number of wheels of each count; without `eachOnce`, as many as the longest train needs. */
  readonly available: Uint8Array
}

/** Maximum tooth count: the product of six wheels stays below 2⁵³, so double precision compares ratios exactly. */
export const MAX_TEETH = 400

/** Wheels of three stages. */
const MAX_PLACES = 6

/** Maximum number of wheels of a set: three stages then have at most 1.4 million products, 6 MB. */
export const MAX_WHEELS = 200

/**
 * A set of wheels, checked and sorted.
 *
 *     teeth ascending; equal counts merge unless each entry is one wheel on the shelf
 *
 * @param teeth - Tooth counts, whole numbers. [1 .. 400], 1 to 200 of them; a worm counts its starts
 * @param eachOnce - true: each entry is one wheel, used at most once; false: any number of each is available
 * @returns The set
 * @throws {DomainError} `out-of-range` for a count outside 1 .. 400 or more than 200 wheels
 * @see counts of teeth are whole by definition
 * @example wheelSet([40, 20, 20], false).teeth // [20,40]
 * @example wheelSet([40, 20, 20], true).teeth // [20,20,40]
 */
export function wheelSet(teeth: readonly number[], eachOnce: boolean): WheelSet {
  const sorted = (eachOnce ? [...teeth] : [...new Set(teeth)]).sort((a, b) => a - b)
  if (sorted.length < 1 || sorted.length > MAX_WHEELS) {
    throw new DomainError(
      'out-of-range',
      `teeth: expected 1 to ${MAX_WHEELS} wheels, got ${sorted.length}; narrow the range or the list`,
      { min: 1, max: MAX_WHEELS, value: sorted.length },
    )
  }
  for (const count of sorted) {
    if (!Number.isInteger(count) || count < 1 || count > MAX_TEETH) {
      throw new DomainError('out-of-range', `teeth: expected whole numbers 1 to ${MAX_TEETH}, got ${count}`, {
        min: 1,
        max: MAX_TEETH,
        value: count,
      })
    }
  }
  const available = new Uint8Array(MAX_TEETH + 1)
  for (const count of sorted) available[count] = eachOnce ? available[count]! + 1 : MAX_PLACES
  return { teeth: sorted, eachOnce, available }
}

/**
 * Distinct products of a given number of wheels of a set: all possible contributions of one side of a train.
 *
 *     { w₁ · … · wₛ },  ascending
 *
 * w₁ to wₛ are wheels of the list, s stages.
 *
 * Many products are marked by one bit each, so memory is bounded by the largest product (8 MB at 400³), whatever the number of wheels.
 *
 * @param wheels - Wheels of one side
 * @param stages - s, wheels on that side. [1 .. 3]
 * @returns Products, ascending, each once; empty if the shelf has too few wheels
 * @see Brocot, A. (1861), Calcul des rouages par approximation (trains are found through the factors of a fraction)
 * @example Array.from(distinctProducts(wheelSet([2, 3, 4], false), 2)) // [4,6,8,9,12,16]
 * @example Array.from(distinctProducts(wheelSet([2, 3, 4], true), 2)) // [6,8,12]
 */
export function distinctProducts(wheels: WheelSet, stages: number): Int32Array {
  return productsOf(wheels, stages).products
}

/** Calls back with the product of every choice of the given number of wheels. */
function eachProduct({ teeth, eachOnce }: WheelSet, stages: number, call: (product: number) => void): void {
  const step = eachOnce ? 1 : 0
  const choose = (from: number, left: number, product: number): void => {
    for (let i = from; i < teeth.length; i++) {
      if (left === 1) call(product * teeth[i]!)
      else choose(i + step, left - 1, product * teeth[i]!)
    }
  }
  choose(0, stages, 1)
}

/** Cost of sorting a product, in words of bit marks read. */
const ORDERED = 16

/** Products of the given number of wheels, and the smallest one that more than one choice of wheels makes. */
function productsOf(wheels: WheelSet, stages: number) {
  const choices = choicesOf(wheels, stages)
  const words = ((wheels.teeth[wheels.teeth.length - 1]! ** stages) >>> 5) + 1
  let repeated = Number.POSITIVE_INFINITY
  if (choices * ORDERED < words) {
    const all: number[] = []
    eachProduct(wheels, stages, (product) => all.push(product))
    const ascending = Int32Array.from(all).sort()
    const products = ascending.filter((product, i) => i === 0 || product !== ascending[i - 1])
    const again = ascending.findIndex((product, i) => i > 0 && product === ascending[i - 1])
    if (again > 0) repeated = ascending[again]!
    return { products, repeated }
  }
  const marks = new Uint32Array(words)
  eachProduct(wheels, stages, (product) => {
    const word = marks[product >>> 5]!
    const bit = 1 << (product & 31)
    if ((word & bit) === 0) marks[product >>> 5] = word | bit
    else if (product < repeated) repeated = product
  })
  return { products: marked(marks), repeated }
}

/** Positions of the set bits, ascending. */
function marked(marks: Uint32Array): Int32Array {
  let total = 0
  for (const word of marks) for (let rest = word; rest !== 0; rest &= rest - 1) total++
  const found = new Int32Array(total)
  let at = 0
  for (let i = 0; i < marks.length; i++) {
    for (let rest = marks[i]!; rest !== 0; rest &= rest - 1)
      found[at++] = i * 32 + 31 - Math.clz32(rest & -rest)
  }
  return found
}

/**
 * All choices of a given number of wheels of a set with a given product.
 *
 *     { (w₁ ≤ … ≤ wₛ) : w₁ · … · wₛ = product }
 *
 * w₁ to wₛ are wheels of the list, s stages.
 *
 * @param product - Product of tooth counts
 * @param wheels - Wheels of one side
 * @param stages - s, wheels on that side. [1 .. 3]
 * @returns Tooth counts, ascending in each choice; empty if there is none
 * @see Brocot, A. (1861), Calcul des rouages par approximation
 * @example waysToMake(1200, wheelSet([20, 24, 30, 40, 50, 60], false), 2) // [[20,60],[24,50],[30,40]]
 */
export function waysToMake(product: number, wheels: WheelSet, stages: number): number[][] {
  const { teeth, available } = wheels
  const ways: number[][] = []
  const chosen: number[] = []
  const isThere = (count: number) => {
    let used = 0
    for (const one of chosen) if (one === count) used++
    return used < (available[count] ?? 0)
  }
  const fill = (from: number, left: number, rest: number): void => {
    if (left === 1) {
      if (rest >= (chosen.at(-1) ?? 0) && isThere(rest)) ways.push([...chosen, rest])
      return
    }
    for (let i = from; i < teeth.length; i++) {
      const count = teeth[i]!
      if (count ** left > rest) break
      if (rest % count !== 0 || count === teeth[i - 1] || !isThere(count)) continue
      chosen.push(count)
      fill(i, left - 1, rest / count)
      chosen.pop()
    }
  }
  fill(0, stages, product)
  return ways
}

/** Distinct products of each number of wheels, from one: the tables of a search for trains. */
export type ProductTables = ReadonlyArray<{
  readonly driving: Int32Array
  readonly driven: Int32Array
  /** Smallest driving product that more than one choice of wheels makes; infinite without one. */
  readonly repeated: number
}>

/**
 * Distinct products of both sides of a train, from one stage to a maximum number of stages.
 *
 *     table[s − 1] = { products of s driving wheels, products of s driven wheels }
 *
 * @param driving - Wheels of the driving side
 * @param driven - Wheels of the driven side; may be the same set
 * @param stages - Maximum number of stages. [1 .. 3]
 * @returns One row per number of stages
 * @see Brocot, A. (1861), Calcul des rouages par approximation
 * @example productTables(wheelSet([2, 3], false), wheelSet([5], false), 2).map(({ driving }) => driving.length) // [2,3]
 */
export function productTables(driving: WheelSet, driven: WheelSet, stages: number): ProductTables {
  return Array.from({ length: stages }, (_, i) => {
    const { products, repeated } = productsOf(driving, i + 1)
    return {
      driving: products,
      driven: driven === driving ? products : distinctProducts(driven, i + 1),
      repeated,
    }
  })
}

/** Number of choices with repetition; an upper bound without repetition. */
function choicesOf({ teeth }: WheelSet, stages: number): number {
  let choices = 1
  for (let stage = 1; stage <= stages; stage++) choices = (choices * (teeth.length + stage - 1)) / stage
  return choices
}

/**
 * Number of products to compute for the tables of a search, repeats included: the cost of the search.
 *
 *     Σₛ C(n + s − 1, s),  n wheels, with repetition
 *
 * @param wheels - Wheels of one side
 * @param stages - Maximum number of stages. [1 .. 3]
 * @returns The number
 * @see definition of combinations with repetition
 * @example productsToMake(wheelSet([2, 3, 4], false), 2) // 9 ± 0
 */
export function productsToMake(wheels: WheelSet, stages: number): number {
  let total = 0
  for (let stage = 1; stage <= stages; stage++) total += choicesOf(wheels, stage)
  return total
}
