import { checkHeadFits, pathOutput, readingOf, response } from '../drive-paths/path.js'
import { at } from '../errors.js'
import { worstSpeedVerdict } from '../gauges/verdicts.js'
import { type Figure, renamed } from '../measure/figure.js'
import { fromSi, toSi } from '../measure/units.js'
import type { Mutable } from '../mutable.js'
import type { EvaluatedPath, ReadingBasis, SpeedUnit, Vehicle, VehiclePath } from './vehicle.js'

/** Most rows of a speed table. */
const MOST_ROWS = 14

/** Top of the table when neither top speed nor last mark is known. [m/s] */
const USUAL_TOP_M_PER_S = toSi('speed', 'kmh', 120)

/**
 * Round speeds at which a dial is looked at, in the unit of the dial.
 *
 *     step, 2·step, … up to the top; the smallest step of 10, 20, 50 that keeps the table short
 *
 * @param unit - Unit of the dial
 * @param topMPerS - Top of the table: top speed, else last mark, else 120 km/h. [m/s]
 * @returns True speeds [m/s], ascending, at least one
 * @see common practice, no source
 * @example tableSpeeds('mph', 60 * 0.44704).map((v) => Math.round(v / 0.44704)) // [10,20,30,40,50,60]
 */
export function tableSpeeds(unit: SpeedUnit, topMPerS: number): number[] {
  // A hair of rounding must not lose the last mark.
  const top = fromSi('speed', unit, topMPerS) * (1 + 1e-9)
  const step = [10, 20, 50].find((size) => Math.floor(top / size) <= MOST_ROWS) ?? top / MOST_ROWS
  const rows = Math.floor(top / step)
  if (rows === 0) return [topMPerS]
  return Array.from({ length: rows }, (_, index) => toSi('speed', unit, step * (index + 1)))
}

/** Turns of the wheels of an axle: what is unsure about one axle's tires is not what is unsure about the other's. */
function wheelTurnsPerM(vehicle: Vehicle, path: VehiclePath): Figure {
  return renamed(vehicle.tires[path.axle].turnsPerM, (input) => `${path.axle} ${input}`)
}

/**
 * What one path of a vehicle does: output, reading, verdict at the worst speed.
 *
 *     measured indicated/true, else measured output / constant · scale, else (1/C) · Π stages / constant · scale
 *
 * @param vehicle - The vehicle
 * @param index - Which of its paths
 * @returns The path evaluated
 * @throws {DomainError} `path-order`, `head-does-not-fit-path`, `rule-needs-dial-max`, each with its pointer in the profile
 * @see EU 165/2014, Annex I (w, k); JCGM 106:2012, 7.4
 * @example evaluateVehiclePath(EXAMPLE_VEHICLE, 0).basis // "computed"
 */
export function evaluateVehiclePath(vehicle: Vehicle, index: number): EvaluatedPath {
  const path = vehicle.paths[index]!
  const { head, measured } = path
  return at(`/paths/${index}`, () => {
    const output = pathOutput(wheelTurnsPerM(vehicle, path), path.stages)
    checkHeadFits(output.carries, head)
    const computed = response(output.outputPerM, head)
    const outputPerM = measured?.outputPerM ?? output.outputPerM
    let basis: ReadingBasis = measured?.outputPerM === undefined ? 'computed' : 'measured-output'
    let line = measured?.outputPerM === undefined ? computed : response(outputPerM, head)
    if (measured?.indicatedPerTrue !== undefined) {
      basis = 'measured-reading'
      line = {
        recordedPerTrue: line.recordedPerTrue,
        indicatedPerTrue: measured.indicatedPerTrue,
        offsetMPerS: measured.offsetMPerS ?? head.offsetMPerS,
      }
    }
    const topMPerS = vehicle.topSpeedMPerS ?? head.dialMaxMPerS ?? USUAL_TOP_M_PER_S
    const speedsMPerS = tableSpeeds(path.unit, topMPerS)
    const evaluated: Mutable<EvaluatedPath> = {
      path,
      index,
      basis,
      shafts: output.shafts,
      outputPerM,
      line,
      computed,
      speedsMPerS,
    }
    const { dialMaxMPerS } = head
    const { topSpeedMPerS } = vehicle
    const verdict = at('/head', () =>
      worstSpeedVerdict(vehicle.rule, readingOf(line), speedsMPerS, { dialMaxMPerS, topSpeedMPerS }),
    )
    if (verdict !== undefined) evaluated.verdict = verdict
    return evaluated
  })
}
