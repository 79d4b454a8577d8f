import { within } from '../errors.js'
import { exact, type Figure, renamed } from '../measure/figure.js'
import { propagate, scaled } from '../measure/propagation.js'
import type { Mutable } from '../mutable.js'
import { BOLTS, largestBoltM } from './bolt-circle.js'
import type { Gender, Interface } from './part.js'
import { parseThread } from './thread.js'

/** Engaged turns over which a pitch difference accumulates; common practice, no source. */
export const ENGAGED_TURNS = 5

/** Rounding tolerance: 100.5 − 100 mm is within 0.5 mm although binary fractions differ below a nanometer. */
export const ROUNDING_M = 1e-9

/** Maximum meaningful tolerance for a fit [m]. */
export const LARGEST_TOLERANCE_M = 0.01

export type Dimension =
  | 'circle-diameter'
  | 'bolt-hole'
  | 'bore'
  | 'size'
  | 'major-diameter'
  | 'pitch'
  | 'diameter'
  | 'spigot-diameter'
  | 'thickness'

/** Comparison of one dimension of two interfaces. */
export interface Compared {
  readonly dimension: Dimension
  readonly thisM: Figure
  readonly otherM: Figure
  /** Mating: inner minus outer, so positive is clearance and negative is interference. Matching: the other minus this one. */
  readonly deviationM: Figure
  readonly within: boolean
}

export interface InterfaceComparison {
  /** `mates`: one goes into the other. `matches`: same kind, so one may replace the other. */
  readonly relation: 'mates' | 'matches'
  readonly compared: readonly Compared[]
  /** Dimensions that only one of the two gives. */
  readonly notCompared: readonly Dimension[]
  /** Number of bolts through both circles. */
  readonly sharedBolts?: number
  /** Largest bolt that passes through both holes of every pair [m]. */
  readonly largestBoltM?: number
  /** Whether every compared dimension is within the tolerance. */
  readonly within: boolean
}

/** Index entry of an interface: a key of the properties that must be equal, then the dimensions with a tolerance. */
export interface InterfaceKey {
  readonly key: string
  readonly primaryM: number
  readonly secondaryM: number
}

/** Search range in such an index. */
export interface InterfaceProbe extends InterfaceKey {
  readonly primaryToleranceM: number
  readonly secondaryToleranceM: number
}

const genderOf = (one: Interface): Gender | undefined => (one.kind === 'bore' ? 'female' : one.gender)

const opposite = (gender: Gender): Gender => (gender === 'female' ? 'male' : 'female')

/**
 * Key of the bolt circles of so many bolts in an index of `interfaceKey`s.
 *
 * @param bolts - Number of bolts, 2 to 24
 * @returns The key of their index entries
 * @see a choice of this service
 * @example boltCircleKey(4) // "bolt-circle/4"
 */
export function boltCircleKey(bolts: number): string {
  return `bolt-circle/${bolts}`
}

/** Properties that must be equal for two interfaces to be comparable; mating ones differ only in gender. */
function keyOf(one: Interface, gender: Gender | undefined): string {
  switch (one.kind) {
    case 'bolt-circle':
      return boltCircleKey(one.bolts)
    case 'shaft':
      return one.teeth === undefined
        ? `shaft/${one.form}/${gender}`
        : `shaft/${one.form}/${one.teeth}/${gender}`
    case 'bore':
      return `shaft/round/${gender}`
    case 'thread': {
      const { flankAngleDeg, hand } = parseThread(one.designation)
      return `thread/${flankAngleDeg}/${hand}/${gender}`
    }
    case 'flange':
      return `flange/${gender ?? 'any'}`
  }
}

/** Dimensions in order of comparison; the index is sorted by the first. */
function dimensionsOf(one: Interface): ReadonlyMap<Dimension, Figure> {
  const dimensions = new Map<Dimension, Figure>()
  const put = (name: Dimension, figure: Figure | undefined) => {
    if (figure !== undefined) dimensions.set(name, figure)
  }
  switch (one.kind) {
    case 'bolt-circle':
      put('circle-diameter', one.circleDiameterM)
      put('bolt-hole', one.boltHoleM)
      put('bore', one.boreM)
      break
    case 'shaft':
      put('size', one.sizeM)
      break
    case 'bore':
      put('size', one.diameterM)
      break
    case 'thread': {
      const { majorDiameterM, pitchM } = parseThread(one.designation)
      put('major-diameter', exact(majorDiameterM))
      put('pitch', exact(pitchM))
      break
    }
    case 'flange':
      put('diameter', one.diameterM)
      put('spigot-diameter', one.spigotDiameterM)
      put('thickness', one.thicknessM)
      break
  }
  return dimensions
}

/** Whether every bolt of the smaller of two evenly spaced circles meets a hole of the larger. */
const boltsMeet = (a: number, b: number) => Math.max(a, b) % Math.min(a, b) === 0

/**
 * Index entry of an interface.
 *
 *     key: properties that must be equal (bolts; form, teeth and gender; flank angle, hand and gender); primary: circle diameter, size,
 *     major diameter or diameter; secondary: pitch of a thread, else 0
 *
 * @param one - Interface of a part
 * @returns Its key and dimensions [m]
 * @throws {DomainError} `thread-not-understood`, `out-of-range` for a thread that cannot be read
 * @see a choice of this service
 * @example interfaceKey({ kind: 'thread', designation: 'M18x1.5', gender: 'male' }).key // "thread/60/right/male"
 * @example interfaceKey({ kind: 'bore', diameterM: exact(0.02) }).primaryM // 0.02 ± 0
 */
export function interfaceKey(one: Interface): InterfaceKey {
  const dimensions = dimensionsOf(one)
  const [primary] = dimensions.values()
  return {
    key: keyOf(one, genderOf(one)),
    primaryM: primary!.value,
    secondaryM: dimensions.get('pitch')?.value ?? 0,
  }
}

/**
 * Search ranges that find every interface that may mate with or match a given one.
 *
 *     |primary − given| <= tolerance;  |pitch − given| <= tolerance / 5 turns;  bolts: divisors and multiples
 *
 * @param one - Interface of a part
 * @param toleranceM - Maximum deviation of a dimension. [m], 0 to 0.01
 * @returns Probes of an index of `interfaceKey`s, each key once
 * @throws {DomainError} `out-of-range`, `thread-not-understood`
 * @see a choice of this service
 * @example interfaceProbes({ kind: 'bore', diameterM: exact(0.02) }, 0.001).map(({ key }) => key) // ["shaft/round/female","shaft/round/male"]
 */
export function interfaceProbes(one: Interface, toleranceM: number): InterfaceProbe[] {
  within('tolerance', toleranceM, 0, LARGEST_TOLERANCE_M)
  const { primaryM, secondaryM } = interfaceKey(one)
  return probedKeys(one).map((key) => ({
    key,
    primaryM,
    secondaryM,
    primaryToleranceM: toleranceM + ROUNDING_M,
    secondaryToleranceM: (toleranceM + ROUNDING_M) / ENGAGED_TURNS,
  }))
}

function probedKeys(one: Interface): string[] {
  if (one.kind === 'bolt-circle') {
    const keys: string[] = []
    for (let bolts = BOLTS.min; bolts <= BOLTS.max; bolts++) {
      if (boltsMeet(bolts, one.bolts)) keys.push(boltCircleKey(bolts))
    }
    return keys
  }
  if (one.kind === 'flange') return ['flange/any', 'flange/female', 'flange/male']
  const gender = genderOf(one)!
  return [keyOf(one, gender), keyOf(one, opposite(gender))]
}

/**
 * Comparison of two interfaces: whether they mate or match, and the deviation of each compared dimension.
 *
 *     mates (inner with outer): deviation = inner − outer;  matches (same gender): deviation = other − this
 *     pitch: deviation = 5 turns · difference of the pitches;  within: |deviation| <= tolerance, for every dimension
 *
 * Every dimension that both give is compared. On evenly spaced circles, all bolts of the smaller circle must meet holes of the
 * larger. Such a fit is a candidate, not proven: depth, run-out, strength and clearance to other parts are unknown.
 *
 * @param one - Interface of this part
 * @param other - Interface of the other part
 * @param toleranceM - Maximum deviation of a dimension. [m], 0 to 0.01
 * @returns The comparison, or undefined if the two are not comparable (other form, teeth, hand, flank angle, bolts)
 * @throws {DomainError} `out-of-range`, `thread-not-understood`
 * @see JCGM 100:2008, 5.1.2 (uncertainty of a difference)
 * @example compareInterfaces({ kind: 'bore', diameterM: exact(0.0202) }, { kind: 'shaft', form: 'round', sizeM: exact(0.02), gender: 'male' }, 0.0005).compared[0].deviationM.value // 0.0002 ± 1e-12
 * @example compareInterfaces({ kind: 'thread', designation: 'M22x1.5', gender: 'male' }, { kind: 'thread', designation: '7/8-18', gender: 'female' }, 0.0005).relation // "mates"
 */
export function compareInterfaces(
  one: Interface,
  other: Interface,
  toleranceM: number,
): InterfaceComparison | undefined {
  within('tolerance', toleranceM, 0, LARGEST_TOLERANCE_M)
  if (!probedKeys(one).includes(keyOf(other, genderOf(other)))) return undefined
  const gender = genderOf(one)
  const otherGender = genderOf(other)
  const mates = gender !== undefined && otherGender !== undefined && gender !== otherGender
  const here = dimensionsOf(one)
  const there = dimensionsOf(other)
  const compared: Compared[] = []
  const notCompared: Dimension[] = []
  for (const dimension of new Set([...here.keys(), ...there.keys()])) {
    // A spigot fits a flange of any thickness.
    if (dimension === 'thickness' && mates) continue
    const thisM = here.get(dimension)
    const otherM = there.get(dimension)
    if (thisM === undefined || otherM === undefined) {
      notCompared.push(dimension)
      continue
    }
    const sign = mates && gender === 'female' ? -1 : 1
    const difference = propagate(sign * (otherM.value - thisM.value), [
      [renamed(otherM, (input) => `other: ${input}`), sign],
      [renamed(thisM, (input) => `this: ${input}`), -sign],
    ])
    const deviationM = dimension === 'pitch' ? scaled(difference, ENGAGED_TURNS) : difference
    compared.push({
      dimension,
      thisM,
      otherM,
      deviationM,
      within: Math.abs(deviationM.value) <= toleranceM + ROUNDING_M,
    })
  }
  const result: Mutable<InterfaceComparison> = {
    relation: mates ? 'mates' : 'matches',
    compared,
    notCompared,
    within: compared.every((line) => line.within),
  }
  if (one.kind === 'bolt-circle' && other.kind === 'bolt-circle') {
    result.sharedBolts = Math.min(one.bolts, other.bolts)
    // Studs have a given diameter; only two holes leave the bolt size open.
    if (!mates && gender !== 'male' && one.boltHoleM !== undefined && other.boltHoleM !== undefined) {
      const offsetM = Math.abs(one.circleDiameterM.value - other.circleDiameterM.value) / 2
      result.largestBoltM = largestBoltM(one.boltHoleM.value, other.boltHoleM.value, offsetM)
    }
  }
  return result
}
