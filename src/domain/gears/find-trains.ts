import { DomainError, withPointer } from '../errors.js'
import { infoNote, type Note } from '../measure/notes.js'
import { type ExactRatio, ratioOf, ratioOfDecimal } from '../measure/ratio.js'
import type { SourceId } from '../measure/sources.js'
import type { Mutable } from '../mutable.js'
import { convergents } from './convergents.js'
import type { Mesh } from './meshes.js'
import { bestTrains, fewestStages, type Train, type TrainLimits } from './trains.js'
import { type ProductTables, productsToMake, productTables, type WheelSet, wheelSet } from './wheels.js'

/** Turns of the last wheel per turn of the first: digit by digit exact, with its uncertainty (95 %), or a fraction. */
export type TrainRatio =
  | number
  | { readonly value: number; readonly plusMinus?: number }
  | { readonly numerator: number; readonly denominator: number }

/** Every tooth count from a minimum to a maximum, or a list of counts. */
export type Wheels = { readonly min: number; readonly max: number } | readonly number[]

export interface TrainsRequest {
  readonly ratio: TrainRatio
  /** Maximum number of stages. Left out: 3. */
  readonly stages?: number
  readonly teeth: Wheels
  /** Left out: the wheels of `teeth`, on one shelf. */
  readonly drivenTeeth?: Wheels
  /** Each count is one wheel, used at most once. Left out: any number of each. */
  readonly eachOnce?: boolean
  /** Left out: 10. */
  readonly maxResults?: number
}

export interface TrainRow {
  readonly stages: number
  readonly teeth: readonly Mesh[]
  /** Turns of the last wheel per turn of the first; numerator and denominator in lowest terms. */
  readonly ratio: number
  readonly numerator: number
  readonly denominator: number
  /** Ratio over target, minus one [%]; zero only if exact. */
  readonly errorPercent: number
  readonly exact: boolean
  /** Each pair of outside gears reverses the direction. */
  readonly reverses: boolean
  /** Absent for a ratio without uncertainty. */
  readonly withinUncertainty?: boolean
}

export interface ConvergentRow {
  readonly partialQuotient: number
  readonly numerator: number
  readonly denominator: number
  readonly errorPercent: number
  /** Absent if the wheels cannot give it. */
  readonly stages?: number
}

export interface FoundTrains {
  readonly ratio: { readonly value: number; readonly plusMinus: number }
  readonly exactRatio: string
  readonly trains: readonly TrainRow[]
  /** Smallest error with up to so many stages. */
  readonly bestByStages: ReadonlyArray<{ readonly stages: number; readonly errorPercent: number }>
  readonly convergents: readonly ConvergentRow[]
  readonly searched: number
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/** Maximum term of a convergent shown: larger ones are irrelevant for gears. */
const MAX_TERM = 1e9

const DEFAULT_STAGES = 3
const DEFAULT_TRAINS = 10

/** Maximum number of products of a search that runs on the request thread: those of 50 wheels in three stages, some tens of milliseconds. */
const LIGHT = 25_000

/**
 * Whether a search would block the thread that answers requests.
 *
 *     products of both sides > 25 000
 *
 * @param request - The wheels, and the number of stages
 * @returns true for a search of more than some tens of milliseconds
 * @throws {DomainError} `out-of-range` for a wheel set that is none
 * @see `productsToMake`; the limit is common practice, no source: 50 wheels in three stages take some tens of milliseconds
 * @example trainsAreHeavy({ ratio: 1, teeth: { min: 201, max: 400 } }) // true
 * @example trainsAreHeavy({ ratio: 1, teeth: [20, 30, 40] }) // false
 */
export function trainsAreHeavy(request: TrainsRequest): boolean {
  const { driving, driven } = wheelsOf(request)
  const stages = request.stages ?? DEFAULT_STAGES
  return productsToMake(driving, stages) + (driven === driving ? 0 : productsToMake(driven, stages)) > LIGHT
}

/**
 * The best trains for a ratio, what each further stage gains, and the convergents of the ratio with the stages that they need.
 *
 *     r = Π drivingᵢ / Π drivenᵢ,   minimize |r/target − 1|;   within the uncertainty: |r/target − 1| ≤ U/target
 *
 * U is the uncertainty of the target, 95 %.
 *
 * @param request - Ratio, wheels, number of stages and of results
 * @returns Trains, best first
 * @throws {DomainError} `too-few-wheels`, `search-too-large`, `out-of-range`
 * @see Brocot, A. (1861), Calcul des rouages par approximation; Stern (1858)
 * @example findTrains({ ratio: 0.35, stages: 1, teeth: [14], drivenTeeth: [38, 39, 40] }).trains[0].exact // true
 * @example findTrains({ ratio: { numerator: 191, denominator: 23 }, stages: 1, teeth: [191, 83, 25, 23] }).convergents.length // 4 ± 0
 */
export function findTrains(request: TrainsRequest): FoundTrains {
  const { driving, driven } = wheelsOf(request)
  const stages = request.stages ?? DEFAULT_STAGES
  const limits: TrainLimits = { stages, driving, driven, maxTrains: request.maxResults ?? DEFAULT_TRAINS }
  const { ratio, plusMinus } = targetOf(request.ratio)
  const value = ratio.valueOf()
  const tables = productTables(driving, driven, stages)
  const found = bestTrains(ratio, limits, tables)
  const relativeUncertainty = plusMinus / value
  const within = found.trains.filter((train) => isWithin(train, relativeUncertainty)).length
  const errorUpTo = (count: number) =>
    count === stages
      ? found.trains[0]!.relativeError
      : bestTrains(ratio, { ...limits, stages: count, maxTrains: 1 }, tables.slice(0, count)).trains[0]!
          .relativeError
  return {
    ratio: { value, plusMinus },
    exactRatio: ratio.toFraction(),
    trains: found.trains.map((train) => trainRow(train, relativeUncertainty)),
    bestByStages: tables.map((_, index) => ({
      stages: index + 1,
      errorPercent: errorUpTo(index + 1) * 100,
    })),
    convergents: convergentRows(ratio, limits, tables),
    searched: found.searched,
    sources: found.sources,
    notes: within > 1 ? [...found.notes, withinUncertainty(within)] : found.notes,
  }
}

/** The wheels of both sides; the same object if both share one shelf. */
function wheelsOf({ teeth, drivenTeeth, eachOnce = false }: TrainsRequest) {
  const driving = wheelsAt('/teeth', teeth, eachOnce)
  return {
    driving,
    driven: drivenTeeth === undefined ? driving : wheelsAt('/drivenTeeth', drivenTeeth, eachOnce),
  }
}

function wheelsAt(pointer: string, wheels: Wheels, eachOnce: boolean): WheelSet {
  return withPointer(pointer, () => {
    if (!('min' in wheels)) return wheelSet(wheels, eachOnce)
    const { min, max } = wheels
    if (min > max) {
      throw new DomainError('out-of-range', `min: expected at most max (${max}), got ${min}`, {
        pointer: '/min',
        max,
        value: min,
      })
    }
    return wheelSet(
      Array.from({ length: max - min + 1 }, (_, i) => min + i),
      eachOnce,
    )
  })
}

function targetOf(given: TrainRatio): { readonly ratio: ExactRatio; readonly plusMinus: number } {
  if (typeof given === 'number') return { ratio: ratioOfDecimal(given), plusMinus: 0 }
  if ('value' in given) return { ratio: ratioOfDecimal(given.value), plusMinus: given.plusMinus ?? 0 }
  return { ratio: ratioOf(given.numerator, given.denominator), plusMinus: 0 }
}

const isWithin = ({ relativeError }: Train, relativeUncertainty: number) =>
  Math.abs(relativeError) <= relativeUncertainty

function trainRow(train: Train, relativeUncertainty: number): TrainRow {
  const { meshes, ratio, relativeError } = train
  const row: Mutable<TrainRow> = {
    stages: meshes.length,
    teeth: meshes,
    ratio: ratio.valueOf(),
    numerator: Number(ratio.n),
    denominator: Number(ratio.d),
    errorPercent: relativeError * 100,
    exact: relativeError === 0,
    reverses: meshes.length % 2 === 1,
  }
  if (relativeUncertainty > 0) row.withinUncertainty = isWithin(train, relativeUncertainty)
  return row
}

function convergentRows(ratio: ExactRatio, limits: TrainLimits, tables: ProductTables): ConvergentRow[] {
  return convergents(ratio, MAX_TERM).map(({ partialQuotient, numerator, denominator, relativeError }) => {
    const row: Mutable<ConvergentRow> = {
      partialQuotient,
      numerator,
      denominator,
      errorPercent: relativeError * 100,
    }
    const fewest = fewestStages(ratioOf(numerator, denominator), limits, tables)
    if (fewest !== undefined) row.stages = fewest
    return row
  })
}

const withinUncertainty = (count: number): Note =>
  infoNote(
    'trains-within-uncertainty',
    `${count} of the trains lie within the uncertainty of the ratio: they are not distinguishable, so choose by wheels and stages.`,
  )
