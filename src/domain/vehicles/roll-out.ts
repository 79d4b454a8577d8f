import { budget } from '../measure/budget.js'
import { exact, type Figure, uncertain } from '../measure/figure.js'
import { scaled, sum } from '../measure/propagation.js'
import { plusMinus } from '../measure/uncertainty.js'
import type { TireGeometry } from '../tires/geometry.js'
import { factorOff, INPUT_ERROR_FACTOR } from './aim.js'
import type { Change } from './changes.js'
import type { EvaluatedPath, PathFrame, Vehicle } from './vehicle.js'
import { percentText } from './words.js'

/** Uncertainty of the rolling circumference from a roll-out of ten turns, 95 %, as a fraction; common practice, no source. */
export const ROLL_OUT_PLUS_MINUS = 0.005

/** Share of the variance of a reading above which the tire should be measured first. [%] */
const DOMINANT_PERCENT = 50

/** Whether the rolling circumference is computed from the diameter, marked or measured, by the rolling factor. */
const isComputed = ({ overallDiameterM }: TireGeometry) => overallDiameterM !== undefined

/** Whether the tire contributes more than half of the variance at the lowest judged speed, where an offset of the head has the most weight. */
function isTireDominant({ frame, line }: EvaluatedPath): boolean {
  const tireInputs = new Set(frame.turnsPerM.contributions.map(({ input }) => input))
  const share = budget(sum(scaled(line.indicatedPerTrue, frame.judgedMPerS[0]!), line.offsetMPerS))
    .filter(({ input }) => tireInputs.has(input))
    .reduce((total, { sharePercent }) => total + sharePercent, 0)
  return share > DOMINANT_PERCENT
}

/** The tire with its estimated circumference and the uncertainty that remains after a roll-out. */
function rolledOut(tire: TireGeometry, plusMinusFraction: number): TireGeometry {
  const turns = tire.turnsPerM.value
  return Object.assign({}, tire, {
    turnsPerM: uncertain(turns, 'tire: roll-out', (turns * plusMinusFraction) / 2),
  })
}

/**
 * The frame of a path with its tires at their exact estimate, so that changes are compared without the tire uncertainty that they share.
 *
 *     turns = estimate, u(turns) = 0
 *
 * @param frame - The frame
 * @returns The frame, otherwise unchanged
 * @see JCGM 100:2008, 5.2.4 (an input common to results that are compared)
 * @example plusMinus(withTireHeld(pathFrame(EXAMPLE_VEHICLE, 0)).turnsPerM) // 0 ± 0
 */
export function withTireHeld(frame: PathFrame): PathFrame {
  return withTurns(frame, exact(frame.turnsPerM.value))
}

/** The frame of a path on other tires. */
export const withTurns = (
  { index, speedsMPerS, judgedMPerS, rule }: PathFrame,
  turnsPerM: Figure,
): PathFrame => ({ index, turnsPerM, speedsMPerS, judgedMPerS, rule })

/**
 * Proposes a roll-out of the tire where its computed circumference dominates the uncertainty of a reading, before any part is chosen.
 *
 *     offered where the tire's share of u²(V·b + a) > 50 %, V the lowest judged speed, and b is within a factor 1.5 of true
 *
 * b is the slope of the dial, a is its offset. After the roll-out the tire is assumed to have its estimated circumference ± 0.5 %.
 *
 * @param vehicle - The vehicle
 * @param evaluated - One of its paths, evaluated
 * @returns The measurement as a change that leaves the path unchanged, or undefined where the tire is already measured or does not dominate
 * @see JCGM 100:2008, 5.1.3 (budget); French taximeter regulation of 1980, annex II, art. 4 (course, load, pressure); share and ± 0.5 %: common practice, no source
 * @example rollOutFirst(EXAMPLE_VEHICLE, evaluateVehiclePath(EXAMPLE_VEHICLE, 0)) ?? 'none' // "none"
 */
export function rollOutFirst(vehicle: Vehicle, evaluated: EvaluatedPath): Change | undefined {
  const { path, line } = evaluated
  const tire = vehicle.tires[path.axle]
  const isInputErrorLikely = factorOff(line.indicatedPerTrue.value) > INPUT_ERROR_FACTOR
  if (isInputErrorLikely || !isComputed(tire) || !isTireDominant(evaluated)) return undefined
  const from = tire.size === undefined ? 'diameter' : 'marked size'
  const open = percentText(plusMinus(tire.turnsPerM) / tire.turnsPerM.value)
  return {
    action: 'measure-rolling-circumference',
    pointer: `/tires/${path.axle}`,
    text: `Measure first: the rolling circumference of the ${path.axle} tires is computed from their ${from}, ± ${open}, which is most of the uncertainty here. Load the car as it is normally driven, at the recommended tire pressure; mark tire and ground, roll the car straight ahead through 10 turns of the wheel, and measure the distance; do this three times. Enter the rolling circumference (the distance over 10) in place of the ${from} with its uncertainty, which the roll-out calculation finds from the three distances. Check again before buying any part.`,
    path,
    tire: rolledOut(tire, ROLL_OUT_PLUS_MINUS),
  }
}
