import { budget, exact, plusMinus, scaled, sum, uncertain } from '../measure/figure.js'
import type { TireGeometry } from '../tires/geometry.js'
import { factorOff, judgedSpeeds, SLIP_FACTOR } from './aim.js'
import type { Change } from './changes.js'
import { wheelTurnsPerM } from './evaluate.js'
import type { Axle, EvaluatedPath, Vehicle } from './vehicle.js'
import { percentText } from './words.js'

/** Uncertainty that a roll-out of ten turns leaves in the rolling circumference, 95 %, as a fraction; common practice, no source. */
export const ROLL_OUT_PLUS_MINUS = 0.005

/** Share of the uncertainty of a reading beyond which its tire is measured before anything else is done. [%] */
const DOMINANT_PERCENT = 50

/** A tire whose circumference is computed from its diameter, be that marked or measured, by the rolling factor. */
const isComputed = ({ overallDiameterM }: TireGeometry) => overallDiameterM !== undefined

/** Whether the tire brings more than half of the uncertainty at the lowest judged speed, where an offset of the head counts most. */
function isTireDominant(vehicle: Vehicle, { path, line, speedsMPerS }: EvaluatedPath): boolean {
  const tireInputs = new Set(wheelTurnsPerM(vehicle, path).contributions.map(({ input }) => input))
  const [lowestMPerS] = judgedSpeeds(speedsMPerS)
  const share = budget(sum(scaled(line.indicatedPerTrue, lowestMPerS!), line.offsetMPerS))
    .filter(({ input }) => tireInputs.has(input))
    .reduce((total, { sharePercent }) => total + sharePercent, 0)
  return share > DOMINANT_PERCENT
}

/** A tire that rolls as estimated, with so much uncertainty left. */
function rolledOut(tire: TireGeometry, plusMinusFraction: number): TireGeometry {
  const turns = tire.turnsPerM.value
  return Object.assign({}, tire, {
    turnsPerM: uncertain(turns, 'tire: roll-out', (turns * plusMinusFraction) / 2),
  })
}

/**
 * A vehicle whose tires of one axle roll exactly as estimated: changes compared on it differ by what they change, not by what is unknown of the tire
 * under each of them.
 *
 *     turns = estimate, u(turns) = 0
 *
 * @param vehicle - The vehicle
 * @param axle - Which tires
 * @returns The vehicle, else as it is
 * @see JCGM 100:2008, 5.2.4 (an input common to results that are compared)
 * @example plusMinus(withTireHeld(EXAMPLE_VEHICLE, 'rear').tires.rear.turnsPerM) // 0 ± 0
 */
export function withTireHeld(vehicle: Vehicle, axle: Axle): Vehicle {
  const tire = Object.assign({}, vehicle.tires[axle], {
    turnsPerM: exact(vehicle.tires[axle].turnsPerM.value),
  })
  return Object.assign({}, vehicle, { tires: { ...vehicle.tires, [axle]: tire } })
}

/**
 * A roll-out of the tire, where its computed circumference brings most of the uncertainty of a reading: no part is chosen before it.
 *
 *     offered where the tire's share of u²(V·b + a) > 50 %, V the lowest judged speed, and b is within a factor 1.5 of true
 *
 * b is the slope of the dial, a is its offset. Afterwards the tire is taken to roll as estimated, ± 0.5 %.
 *
 * @param vehicle - The vehicle
 * @param evaluated - One of its paths, evaluated
 * @returns The measurement as a change that leaves the path as it is, or undefined where the tire was measured or matters less
 * @see JCGM 100:2008, 5.1.3 (budget); French taximeter regulation of 1980, annex II, art. 4 (course, load, pressure); share and ± 0.5 %: common practice, no source
 * @example rollOutFirst(EXAMPLE_VEHICLE, evaluateVehiclePath(EXAMPLE_VEHICLE, 0)) ?? 'none' // "none"
 */
export function rollOutFirst(vehicle: Vehicle, evaluated: EvaluatedPath): Change | undefined {
  const { path, line } = evaluated
  const tire = vehicle.tires[path.axle]
  const isSlip = factorOff(line.indicatedPerTrue.value) > SLIP_FACTOR
  if (isSlip || !isComputed(tire) || !isTireDominant(vehicle, evaluated)) return undefined
  const from = tire.size === undefined ? 'diameter' : 'marked size'
  const open = percentText(plusMinus(tire.turnsPerM) / tire.turnsPerM.value)
  return {
    action: 'measure-rolling-circumference',
    pointer: `/tires/${path.axle}`,
    text: `Measure first: the rolling circumference of the ${path.axle} tires is computed from their ${from}, ± ${open}, which is most of what is uncertain here. Load the car as it is driven, at the maker's tire pressure; mark tire and ground, roll it straight ahead through 10 turns of the wheel, and measure the distance; do so three times. POST /v1/tires/rollout computes the rolling circumference, which takes the place of the ${from} in the profile. Check again with it before any part is bought.`,
    path,
    tire: rolledOut(tire, ROLL_OUT_PLUS_MINUS),
  }
}
