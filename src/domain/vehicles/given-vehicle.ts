import { type GivenHead, type GivenStage, givenHead, givenStage } from '../drive-paths/given-path.js'
import { DomainError, withPointer } from '../errors.js'
import { type GivenRule, givenRule } from '../gauges/given-rules.js'
import { correlated } from '../measure/correlation.js'
import { exact, type Figure, renamed } from '../measure/figure.js'
import type { UnitKey } from '../measure/units.js'
import type { Mutable } from '../mutable.js'
import { checkedFilter, type Filter } from '../signals/filter.js'
import { type Tire, tireGeometryAt } from '../tires/geometry.js'
import type { SizeTable } from '../tires/size-table.js'
import type { RemedyAction } from './changes.js'
import type { Axle, MeasuredPath, PulseTiming, RemedyCost, Vehicle, VehiclePath } from './vehicle.js'

/** Timing of an electronic reading, as given. */
export interface GivenPulse {
  readonly zeroTimeoutS?: number
  readonly timerTickS?: number
  readonly filter?: Filter
}

/** Values measured on the car, as given. */
export interface GivenMeasured extends MeasuredPath {
  /** Of indicated over true and offset; left out: 0. */
  readonly correlation?: number
}

/** A drive path of a vehicle, as given. */
export interface GivenPath {
  readonly name: string
  readonly axle: Axle
  readonly stages: readonly GivenStage[]
  readonly head: GivenHead
  readonly pulse?: GivenPulse
  readonly measured?: GivenMeasured
}

/** What a vehicle is called; nothing is computed from it. */
interface VehicleFacts {
  readonly name: string
  readonly reference?: string
  readonly make?: string
  readonly model?: string
  readonly year?: number
  readonly notes?: string
}

/** A vehicle profile. */
export interface GivenVehicle extends VehicleFacts {
  readonly tires: Readonly<Record<Axle, Tire>>
  readonly paths: readonly GivenPath[]
  readonly rule: GivenRule
  readonly topSpeedMPerS?: number
  /** True speeds of the tables; left out: the round ones of each dial. */
  readonly speedsMPerS?: readonly number[]
  /** By action; `pricePerHour` of work beside them. */
  readonly costs?: Partial<Readonly<Record<RemedyAction, RemedyCost>>> & { readonly pricePerHour?: number }
}

/** Units in which the constants of the heads were given, by path. */
export type ConstantUnits = ReadonlyArray<UnitKey<'perDistance'>>

/** A filter as smoothing factor and averaged periods: the check needs only its lag. */
function smoothing(filter: Filter): Pick<PulseTiming, 'smoothingFactor' | 'averagedPeriods'> {
  const { median = 1, movingAverage = 1, factor = 1 } = checkedFilter(filter)
  return { smoothingFactor: factor, averagedPeriods: movingAverage + median - 1 }
}

function timingOf({ filter, ...timing }: GivenPulse, pointer: string): PulseTiming {
  return filter === undefined
    ? timing
    : { ...timing, ...withPointer(`${pointer}/filter`, () => smoothing(filter)) }
}

function measuredOf({ correlation = 0, ...measured }: GivenMeasured): MeasuredPath {
  const { offsetMPerS, indicatedPerTrue = exact(1) } = measured
  return offsetMPerS === undefined
    ? measured
    : { ...measured, offsetMPerS: correlated(offsetMPerS, indicatedPerTrue, correlation) }
}

function pathOf(
  given: GivenPath,
  index: number,
  constantUnit: ConstantUnits[number] | undefined,
): VehiclePath {
  const { name, axle, stages, pulse, measured } = given
  // The uncertainties of the stages and the head of one path are independent of those of another.
  const own = (figure: Figure) => renamed(figure, (input) => `${name}: ${input}`)
  const head = givenHead(given.head)
  const path: Mutable<VehiclePath> = {
    name,
    axle,
    stages: stages.map((stage, place) => {
      const made = givenStage(stage, place)
      // Most ratios are exact and carry no name.
      return made.exactRatio === undefined ? Object.assign(made, { ratio: own(made.ratio) }) : made
    }),
    head: Object.assign(head, {
      constantPerM: own(head.constantPerM),
      scale: own(head.scale),
      offsetMPerS: own(head.offsetMPerS),
    }),
    unit: given.head.unit,
  }
  if (constantUnit !== undefined) path.constantUnit = constantUnit
  if (pulse !== undefined) path.pulse = timingOf(pulse, `/paths/${index}/pulse`)
  if (measured !== undefined) path.measured = measuredOf(measured)
  return path
}

/**
 * A vehicle, from its profile: geometry of the tires, ratios of the stages, errors of the heads, and the rule.
 *
 *     every uncertainty is an input of its own path and tire; scale and offset of one calibration are correlated
 *
 * @param given - The profile
 * @param table - Finds tire sizes that no formula covers
 * @param constantUnits - Units in which the constants of the heads were given, by path; left out: not known
 * @returns The vehicle
 * @throws {DomainError} those of `tireGeometry`, `givenRule` and `checkedFilter`, each with its pointer in the profile
 * @see JCGM 100:2008, 5.2 (correlated and independent input quantities)
 * @example vehicleOf({ name: 'Quillock', tires: { front: { turnsPerM: exact(0.5) }, rear: { turnsPerM: exact(0.5) } }, paths: [{ name: 'speedometer', axle: 'rear', stages: [], head: { input: 'turns', constantPerM: uncertain(0.5, 'head: constant', 0.01), unit: 'kmh' } }], rule: 'un-r39' }, builtInSizes).paths[0].head.constantPerM.contributions[0].input // "speedometer: head: constant"
 */
export function vehicleOf(given: GivenVehicle, table: SizeTable, constantUnits: ConstantUnits = []): Vehicle {
  const { tires, paths, rule, topSpeedMPerS, speedsMPerS, costs } = given
  const vehicle: Mutable<Vehicle> = {
    tires: {
      front: tireGeometryAt('/tires/front', tires.front, table),
      rear: tireGeometryAt('/tires/rear', tires.rear, table),
    },
    paths: paths.map((path, index) => pathOf(path, index, constantUnits[index])),
    rule: givenRule(rule, '/rule'),
  }
  if (topSpeedMPerS !== undefined) vehicle.topSpeedMPerS = topSpeedMPerS
  if (speedsMPerS !== undefined) vehicle.rowsMPerS = speedsMPerS
  if (costs !== undefined) {
    const { pricePerHour, ...byAction } = costs
    vehicle.costs = byAction
    if (pricePerHour !== undefined) vehicle.pricePerHour = pricePerHour
  }
  return vehicle
}

/**
 * Rejects a profile with two paths of one name: calibrations and firmware constants refer to a path by its name.
 *
 *     name of path i ≠ name of path k, i ≠ k
 *
 * @param profile - A profile as it is given now; a stored one may date from before this check
 * @throws {DomainError} `path-repeated`
 * @see by definition of the reference of a path
 * @example checkPathNames({ paths: [{ name: 'speedometer' }, { name: 'speedometer' }] }) // throws path-repeated
 */
export function checkPathNames(profile: { readonly paths: ReadonlyArray<{ readonly name: string }> }): void {
  const names = profile.paths.map(({ name }) => name)
  for (const [index, name] of names.entries()) {
    if (names.indexOf(name) === index) continue
    throw new DomainError(
      'path-repeated',
      `paths: two paths are called "${name}"; give each a name of its own`,
      { pointer: `/paths/${index}/name`, name },
    )
  }
}
