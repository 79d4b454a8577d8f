import { checkHeadFits, pathOutput, response } from '../drive-paths/path.js'
import { withPointer } from '../errors.js'
import { ruleVerdict } from '../gauges/rule-verdicts.js'
import { topJudgedMPerS } from '../gauges/verdicts.js'
import { exact, type Figure, renamed } from '../measure/figure.js'
import { fromSi, toSi } from '../measure/units.js'
import type { Mutable } from '../mutable.js'
import type { EvaluatedPath, MeasuredPath, ReadingBasis, SpeedUnit, Vehicle, VehiclePath } from './vehicle.js'

/** Maximum number of rows in a speed table. */
const MAX_ROWS = 14

/**
 * Round speeds for the table of a dial, in the unit of the dial.
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
  // Rounding must not lose the last mark.
  const top = fromSi('speed', unit, topMPerS) * (1 + 1e-9)
  const step = [10, 20, 50].find((size) => Math.floor(top / size) <= MAX_ROWS) ?? top / MAX_ROWS
  const rows = Math.floor(top / step)
  if (rows === 0) return [topMPerS]
  return Array.from({ length: rows }, (_, index) => toSi('speed', unit, step * (index + 1)))
}

/**
 * Wheel turns per distance of an axle. The uncertainties of the two axles are independent, so each input is named for its axle.
 *
 *     1/C, each input named for its axle
 *
 * @param vehicle - The vehicle
 * @param path - A path, for its axle
 * @returns 1/C [1/m]
 * @see JCGM 100:2008, 5.2 (correlated and independent input quantities)
 * @example wheelTurnsPerM(EXAMPLE_VEHICLE, { axle: 'rear' }).value * 1609.344 // 760 ± 1e-9
 */
export function wheelTurnsPerM(vehicle: Vehicle, path: Pick<VehiclePath, 'axle'>): Figure {
  return renamed(vehicle.tires[path.axle].turnsPerM, (input) => `${path.axle} ${input}`)
}

/** Computed values that differ by no more count as equal: another tire, gear or head makes a larger difference. */
const SAME_SHARE = 1e-3

/**
 * Whether the parts of a path compute to the same value now as at an earlier time.
 *
 *     |now / then − 1| <= 0.001
 *
 * @param now - Output [1/m] or indicated per true speed. [> 0]
 * @param then - The same, earlier. [> 0]
 * @returns Whether no tire, stage or head can have been changed in between to any effect
 * @see common practice, no source
 * @example computesTheSame(1.0003, 1) // true
 */
export function computesTheSame(now: number, then: number): boolean {
  return Math.abs(now / then - 1) <= SAME_SHARE
}

/**
 * The measured values of a path that are still valid. A value measured with other tires, gears or another head does not apply to the
 * car as it is now.
 *
 *     valid while |computed now / computed then − 1| <= 0.001; valid without a check if `computed` is absent
 *
 * @param measured - What was measured
 * @param now - Values computed from tire, stages and head now: output [1/m] and indicated ÷ true speed
 * @returns The valid values, and now / then of a value that is no longer valid
 * @see JCGM 100:2008, 3.1.3 (a result belongs to the measurand as it was specified when measured)
 * @example stillValid({ indicatedPerTrue: exact(1.006), computed: { indicatedPerTrue: 1 } }, { outputPerM: 0.6, indicatedPerTrue: 0.97 }).outdated // 0.97 ± 1e-12
 */
export function stillValid(
  measured: MeasuredPath,
  now: { readonly outputPerM: number; readonly indicatedPerTrue: number },
): { measured: MeasuredPath; outdated?: number } {
  const { computed = {} } = measured
  const change = (then: number | undefined, computedNow: number) =>
    then === undefined || computesTheSame(computedNow, then) ? undefined : computedNow / then
  const outputChange =
    measured.outputPerM === undefined ? undefined : change(computed.outputPerM, now.outputPerM)
  const readingChange =
    measured.indicatedPerTrue === undefined
      ? undefined
      : change(computed.indicatedPerTrue, now.indicatedPerTrue)
  const outdated = readingChange ?? outputChange
  if (outdated === undefined) return { measured }
  const left: Mutable<MeasuredPath> = { ...measured }
  if (outputChange !== undefined) delete left.outputPerM
  if (readingChange !== undefined) {
    delete left.indicatedPerTrue
    delete left.offsetMPerS
  }
  return { measured: left, outdated }
}

/**
 * Evaluates one path of a vehicle: output, reading, verdict at the worst speed.
 *
 *     measured indicated/true with its measured offset (default 0); else measured output / constant · scale, else (1/C) · Π stages / constant · scale;
 *     measured values only while they are still valid
 *
 * @param vehicle - The vehicle
 * @param index - Which of its paths
 * @returns The evaluated path
 * @throws {DomainError} `path-order`, `head-does-not-fit-path`, `rule-needs-dial-max`, each with its pointer in the profile
 * @see EU 165/2014, Annex I (w, k); JCGM 106:2012, 7.4
 * @example evaluateVehiclePath(EXAMPLE_VEHICLE, 0).basis // "computed"
 */
export function evaluateVehiclePath(vehicle: Vehicle, index: number): EvaluatedPath {
  const given = vehicle.paths[index]!
  const { head, measured: whole } = given
  return withPointer(`/paths/${index}`, () => {
    const output = pathOutput(wheelTurnsPerM(vehicle, given), given.stages)
    checkHeadFits(output.signal, head)
    const computed = response(output.outputPerM, head)
    const found =
      whole === undefined
        ? undefined
        : stillValid(whole, {
            outputPerM: output.outputPerM.value,
            indicatedPerTrue: computed.indicatedPerTrue.value,
          })
    const measured = found?.measured
    const path = measured === whole ? given : Object.assign({}, given, { measured })
    const outputPerM = measured?.outputPerM ?? output.outputPerM
    let basis: ReadingBasis = measured?.outputPerM === undefined ? 'computed' : 'measured-output'
    let line = measured?.outputPerM === undefined ? computed : response(outputPerM, head)
    if (measured?.indicatedPerTrue !== undefined) {
      basis = 'measured-reading'
      line = {
        odometerPerTrue: line.odometerPerTrue,
        indicatedPerTrue: measured.indicatedPerTrue,
        // The measured reading already includes the offset of the head.
        offsetMPerS: measured.offsetMPerS ?? exact(0),
      }
    }
    const ends = { dialMaxMPerS: head.dialMaxMPerS, topSpeedMPerS: vehicle.topSpeedMPerS }
    const speedsMPerS = tableSpeeds(path.unit, topJudgedMPerS(ends))
    const evaluated: Mutable<EvaluatedPath> = {
      path,
      index,
      basis,
      shafts: output.shafts,
      outputPerM,
      line,
      computed,
      speedsMPerS,
      rowsMPerS: vehicle.rowsMPerS ?? speedsMPerS,
    }
    if (found?.outdated !== undefined) evaluated.outdated = found.outdated
    const verdict = withPointer('/head', () => ruleVerdict(vehicle.rule, line, ends))
    if (verdict !== undefined) evaluated.verdict = verdict
    return evaluated
  })
}
