import type { BenchRow } from '../cables/bench-table.js'
import { stageName } from '../drive-paths/given-path.js'
import { pathOutput, readingOf, type Shaft } from '../drive-paths/path.js'
import { type ErrorBand, errorBand } from '../gauges/error-band.js'
import type { Figure } from '../measure/figure.js'
import { halfWidth } from '../measure/spread.js'
import { fromSi } from '../measure/units.js'
import type { Mutable } from '../mutable.js'
import { type CheckedPath, checkedPath } from './checked-path.js'
import type { GivenPath } from './given-vehicle.js'
import { type RoadTest, roadTest } from './road-test.js'
import type { Axle, EvaluatedPath, SpeedUnit, Vehicle } from './vehicle.js'
import { stageSetting } from './worksheet-inputs.js'

/** A link of the chain from wheel to dial: its ratio, and the turns or pulses per meter that leave it, or at which the head reads true. */
export interface WorksheetLink {
  readonly kind: 'wheel' | GivenPath['stages'][number]['kind'] | 'head'
  readonly name: string
  /** Teeth, pulses or whole numbers in words. */
  readonly setting: string
  readonly ratio?: Figure
  readonly turnsPerM?: Figure
  readonly pulsesPerM?: Figure
}

/** A line of a plot. */
interface Series {
  readonly name: string
  readonly unit: string
  readonly points: ReadonlyArray<readonly number[]>
}

/** One drive path on a worksheet. */
export interface WorksheetPath extends CheckedPath {
  readonly axle: Axle
  readonly unit: SpeedUnit
  readonly dialMaxMPerS?: number
  readonly chain: readonly WorksheetLink[]
  /** Of the plot: error, its uncertainty and the limits of the rule against true speed, in the unit of the dial. */
  readonly series: readonly Series[]
  readonly limitsAre: ErrorBand['kind']
  readonly bench: readonly BenchRow[]
  readonly roadTest: RoadTest
}

const UNIT_NAMES: Readonly<Record<SpeedUnit, string>> = { mph: 'mph', kmh: 'km/h' }

/** Relative tolerance of the last mark, for rounding in unit conversions. */
const ROUNDING = 1e-9

const leaving = ({ after: _, ...perM }: Shaft): Pick<WorksheetLink, 'turnsPerM' | 'pulsesPerM'> => perM

function chainOf(given: GivenPath, vehicle: Vehicle, { path }: EvaluatedPath): WorksheetLink[] {
  const { shafts } = pathOutput(vehicle.tires[path.axle].turnsPerM, path.stages)
  const { input, constantPerM } = path.head
  return [
    { kind: 'wheel', name: `${path.axle} wheel`, setting: '', ...leaving(shafts[0]!) },
    ...given.stages.map((stage, index) => ({
      kind: stage.kind,
      name: stageName(stage, index),
      setting: stageSetting(stage),
      ratio: path.stages[index]!.ratio,
      ...leaving(shafts[index + 1]!),
    })),
    {
      kind: 'head',
      name: given.name,
      setting: 'reads true at',
      ...(input === 'turns' ? { turnsPerM: constantPerM } : { pulsesPerM: constantPerM }),
    },
  ]
}

/** Speeds of the plot: the round ones, those of the table, and half the lowest, so that there are at least two. */
function plotSpeeds({ speedsMPerS, rowsMPerS }: EvaluatedPath): number[] {
  const speeds = [...new Set([...speedsMPerS, ...rowsMPerS])].sort((a, b) => a - b)
  return [speeds[0]! / 2, ...speeds]
}

/** Error, its uncertainty and the limits of the rule against true speed, in the unit of the dial. */
function seriesOf(
  { rule, topSpeedMPerS }: Vehicle,
  evaluated: EvaluatedPath,
): Pick<WorksheetPath, 'series' | 'limitsAre'> {
  const { path, line } = evaluated
  const unit = (speedMPerS: number) => fromSi('speed', path.unit, speedMPerS)
  const reading = readingOf(line)
  const speeds = plotSpeeds(evaluated)
  const read = speeds.map((trueMPerS) => {
    const { indicatedMPerS, spread } = reading(trueMPerS)
    return { trueMPerS, errorMPerS: indicatedMPerS - trueMPerS, uncertaintyMPerS: halfWidth(spread) }
  })
  const series = (name: string, points: ReadonlyArray<readonly [number, number]>): Series => ({
    name,
    unit: UNIT_NAMES[path.unit],
    points: points.map(([x, y]) => [unit(x), unit(y)]),
  })
  const curve = (name: string, sign: number) =>
    series(
      name,
      read.map((one) => [one.trueMPerS, one.errorMPerS + sign * one.uncertaintyMPerS]),
    )
  const { dialMaxMPerS } = path.head
  const band = errorBand(rule, line, speeds[0]!, speeds.at(-1)!, { dialMaxMPerS, topSpeedMPerS })
  const limit = (name: string, side: 'lower' | 'upper') => {
    const points = band[side].map((one) => [one.trueMPerS, one.errorMPerS] as const)
    return points.length === 0 ? [] : [series(name, points)]
  }
  return {
    series: [
      curve('error', 0),
      curve('error, lower end of uncertainty', -1),
      curve('error, upper end of uncertainty', 1),
      ...limit('lower limit of the rule', 'lower'),
      ...limit('upper limit of the rule', 'upper'),
    ],
    limitsAre: band.kind,
  }
}

/**
 * One drive path on a worksheet: the check, the chain from wheel to dial, the lines of the plot and a road test.
 *
 *     plot: error = indicated − true, ± U, over half the lowest speed and all round speeds and those of the table
 *
 * U is the uncertainty of the reading.
 *
 * @param given - The path of the profile
 * @param vehicle - The vehicle
 * @param evaluated - The path as evaluated
 * @param bench - Rows of the bench table of its head
 * @returns The path with its chain, series and road test; marks above the last of the dial are not driven
 * @throws {DomainError} `rule-needs-dial-max`
 * @see the functions it is made of: `checkedPath`, `errorBand`, `roadTest`
 * @example worksheetPath({ name: 'speedometer', axle: 'rear', stages: [], head: { input: 'turns', constantPerM: exact(0.6), unit: 'mph' } }, EXAMPLE_VEHICLE, checkVehicle(EXAMPLE_VEHICLE).paths[0], []).chain.map(({ kind }) => kind) // ["wheel","head"]
 */
export function worksheetPath(
  given: GivenPath,
  vehicle: Vehicle,
  evaluated: EvaluatedPath,
  bench: readonly BenchRow[],
): WorksheetPath {
  const { path, line, speedsMPerS } = evaluated
  const { dialMaxMPerS } = path.head
  const marks = speedsMPerS.filter(
    (mark) => dialMaxMPerS === undefined || mark <= dialMaxMPerS * (1 + ROUNDING),
  )
  const sheet: Mutable<WorksheetPath> = {
    ...checkedPath(vehicle, evaluated),
    axle: path.axle,
    unit: path.unit,
    chain: chainOf(given, vehicle, evaluated),
    ...seriesOf(vehicle, evaluated),
    bench,
    roadTest: roadTest(line, path.unit, marks, vehicle.topSpeedMPerS),
  }
  if (dialMaxMPerS !== undefined) sheet.dialMaxMPerS = dialMaxMPerS
  return sheet
}
