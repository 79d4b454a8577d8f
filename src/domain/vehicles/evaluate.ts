import { checkHeadFits, outputPerMOf, pathOutput, type Response, response } from '../drive-paths/path.js'
import { withPointer } from '../errors.js'
import { type RuleVerdict, ruleVerdictIn } from '../gauges/rule-verdicts.js'
import { ruleFrame, topJudgedMPerS } from '../gauges/verdicts.js'
import { exact, type Figure, renamed } from '../measure/figure.js'
import { fromSi, toSi } from '../measure/units.js'
import type { Mutable } from '../mutable.js'
import type { TireGeometry } from '../tires/geometry.js'
import { judgedSpeeds } from './aim.js'
import {
  type Axle,
  type EvaluatedPath,
  type MeasuredPath,
  type PathFrame,
  type PathReading,
  type ReadingBasis,
  type SpeedUnit,
  type Vehicle,
  type VehiclePath,
  withMeasured,
} from './vehicle.js'

/** Maximum number of rows in a speed table. */
const MAX_ROWS = 14

/** Steps of a speed table, in the unit of the dial. */
const STEPS = [10, 20, 50]

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
  const step = STEPS.find((size) => Math.floor(top / size) <= MAX_ROWS) ?? top / MAX_ROWS
  const rows = Math.floor(top / step)
  if (rows === 0) return [topMPerS]
  const speedsMPerS: number[] = []
  for (let row = 1; row <= rows; row++) speedsMPerS.push(toSi('speed', unit, step * row))
  return speedsMPerS
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
  return turnsOn(path.axle, vehicle.tires[path.axle])
}

/** The same of a tire on an axle. */
export const turnsOn = (axle: Axle, tire: TireGeometry): Figure =>
  renamed(tire.turnsPerM, (input) => `${axle} ${input}`)

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
 * What no change of a part alters on a path: the turns of its wheels, the speeds at which its dial is judged, and what the rule asks there.
 *
 *     1/C of its axle; the round speeds of the dial up to the top speed; `judgedSpeeds` of these; `ruleFrame`
 *
 * @param vehicle - The vehicle
 * @param index - Which of its paths
 * @returns The frame; `readingAfter` gives the reading of any path within it
 * @see the functions it is made of: `wheelTurnsPerM`, `tableSpeeds`, `judgedSpeeds`, `ruleFrame`
 * @example pathFrame(EXAMPLE_VEHICLE, 0).turnsPerM.value * 1609.344 // 760 ± 1e-9
 */
export function pathFrame(vehicle: Vehicle, index: number): PathFrame {
  const path = vehicle.paths[index]!
  const ends = { dialMaxMPerS: path.head.dialMaxMPerS, topSpeedMPerS: vehicle.topSpeedMPerS }
  const speedsMPerS = tableSpeeds(path.unit, topJudgedMPerS(ends))
  return {
    index,
    turnsPerM: wheelTurnsPerM(vehicle, path),
    speedsMPerS,
    judgedMPerS: judgedSpeeds(speedsMPerS),
    rule: ruleFrame(vehicle.rule, ends),
  }
}

/**
 * The reading of a path in its frame: as the path is, or as it would be after a change of a part.
 *
 *     measured indicated/true with its measured offset (default 0); else measured output / constant · scale, else (1/C) · Π stages / constant · scale;
 *     measured values only while they are still valid
 *
 * A remedy so states what a check of the changed vehicle would answer, for the cost of a product and two quotients.
 *
 * @param frame - What the change leaves as it is
 * @param given - The path, with its head of the kind that it carries
 * @returns Slope and offset of the dial, output [1/m], basis, and the path with the measured values that are still valid
 * @throws {DomainError} `not-finite`
 * @see EU 165/2014, Annex I (w, k)
 * @example readingAfter(pathFrame(EXAMPLE_VEHICLE, 0), EXAMPLE_VEHICLE.paths[0]).line.indicatedPerTrue.value // 0.9842 ± 1e-9
 */
export function readingAfter(frame: PathFrame, given: VehiclePath): PathReading {
  const { head, stages, measured: whole } = given
  const computedPerM = outputPerMOf(frame.turnsPerM, stages)
  const computed = response(computedPerM, head)
  if (whole === undefined)
    return { path: given, basis: 'computed', outputPerM: computedPerM, line: computed, computed }
  const { measured, outdated } = stillValid(whole, {
    outputPerM: computedPerM.value,
    indicatedPerTrue: computed.indicatedPerTrue.value,
  })
  const outputPerM = measured.outputPerM ?? computedPerM
  let basis: ReadingBasis = measured.outputPerM === undefined ? 'computed' : 'measured-output'
  let line = measured.outputPerM === undefined ? computed : response(outputPerM, head)
  if (measured.indicatedPerTrue !== undefined) {
    basis = 'measured-reading'
    line = {
      odometerPerTrue: line.odometerPerTrue,
      indicatedPerTrue: measured.indicatedPerTrue,
      // The measured reading already includes the offset of the head.
      offsetMPerS: measured.offsetMPerS ?? exact(0),
    }
  }
  const path = measured === whole ? given : withMeasured(given, measured)
  const reading: Mutable<PathReading> = { path, basis, outputPerM, line, computed }
  if (outdated !== undefined) reading.outdated = outdated
  return reading
}

/** Verdict of the rule on a reading of a path, its errors at the head. */
export const verdictAfter = ({ rule }: PathFrame, line: Response): RuleVerdict | undefined =>
  withPointer('/head', () => ruleVerdictIn(rule, line))

/**
 * Evaluates one path of a vehicle: output, reading, verdict at the worst speed.
 *
 *     `readingAfter` no change, with the turns or pulses of each shaft and the verdict of the rule
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
  return withPointer(`/paths/${index}`, () => {
    const frame = pathFrame(vehicle, index)
    const { shafts, signal } = pathOutput(frame.turnsPerM, given.stages)
    checkHeadFits(signal, given.head)
    const { path, basis, outputPerM, line, computed, outdated } = readingAfter(frame, given)
    const { speedsMPerS } = frame
    const evaluated: Mutable<EvaluatedPath> = {
      frame,
      path,
      index,
      basis,
      shafts,
      outputPerM,
      line,
      computed,
      speedsMPerS,
      rowsMPerS: vehicle.rowsMPerS ?? speedsMPerS,
    }
    if (outdated !== undefined) evaluated.outdated = outdated
    const verdict = verdictAfter(frame, line)
    if (verdict !== undefined) evaluated.verdict = verdict
    return evaluated
  })
}
