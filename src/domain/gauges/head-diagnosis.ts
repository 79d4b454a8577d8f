import { COVERAGE_FACTOR, type Figure } from '../measure/figure.js'
import { cautionNote, infoNote } from '../measure/notes.js'
import { quotient } from '../measure/propagation.js'
import { plusMinus, standardUncertainty } from '../measure/uncertainty.js'
import { toSi } from '../measure/units.js'
import type { SpeedUnit } from '../vehicles/vehicle.js'
import { percentText, speedText } from '../vehicles/words.js'

export interface HeadFinding {
  readonly code: string
  readonly level: 'fail' | 'caution' | 'info'
  readonly text: string
}

export interface Symptoms {
  /** Indicated ÷ true speed. */
  readonly scale: Figure
  readonly offsetMPerS: Figure
  /** Odometer distance ÷ true distance, from a distance check. */
  readonly odometerPerTrue?: Figure
  /** What drives the head; default: turns. */
  readonly input?: 'turns' | 'pulses'
  /** Where it was read: the head alone on a bench, without the ratio of the car, or in the car; default: in the car. */
  readonly on?: 'bench' | 'road'
  /** Unit of the dial; default: mph. */
  readonly unit?: SpeedUnit
  /** Lowest and highest true speed read [m/s]. */
  readonly lowestMPerS: number
  readonly highestMPerS: number
}

export interface Diagnosis {
  readonly fault: 'none' | 'ratio' | 'head' | 'ratio-and-head' | 'not-distinguishable'
  /** The error to correct by: that of the speed, or that of the odometer. */
  readonly correctBy: 'speed' | 'distance'
  /** Whether the head's own scale or offset is proven wrong. */
  readonly isHeadOut: boolean
  /** The head's own scale: speed error that the odometer does not share. */
  readonly headScale?: Figure
  readonly findings: readonly HeadFinding[]
}

/** Above this uncertainty a scale is inconclusive, as a fraction (95 %). */
const MAX_USABLE_UNCERTAINTY = 0.03

/** Change at the high end from cutting one coil of the hairspring (TM 9-1829A), and the maximum number of coils to cut. */
const COIL_M_PER_S = toSi('speed', 'mph', 6)
const MAX_COILS = 3

type State = 'right' | 'wrong' | 'unknown'

function stateOf(factor: Figure): State {
  const uncertainty = plusMinus(factor)
  if (Math.abs(factor.value - 1) > uncertainty && uncertainty < MAX_USABLE_UNCERTAINTY) return 'wrong'
  if (Math.abs(factor.value - 1) > COVERAGE_FACTOR * uncertainty) return 'wrong'
  return uncertainty < MAX_USABLE_UNCERTAINTY ? 'right' : 'unknown'
}

/** Text of an error and its uncertainty, with enough decimals to distinguish the two. */
function percent(factor: Figure): string {
  const error = factor.value - 1
  const compared = [Math.abs(error), plusMinus(factor)]
  return `${percentText(error, compared)} ± ${percentText(plusMinus(factor), compared)}`
}

const relativeUncertainty = (factor: Figure) => standardUncertainty(factor) / factor.value

/** The symptoms with their defaults. */
interface Case extends Required<Omit<Symptoms, 'odometerPerTrue'>> {
  readonly odometerPerTrue: Figure | undefined
  readonly isOffsetSignificant: boolean
}

const sideText = (unit: SpeedUnit, errorMPerS: number) =>
  `${speedText(unit, Math.abs(errorMPerS))} ${errorMPerS < 0 ? 'under' : 'over'}`

/** Text of the error at a true speed. */
const errorText = ({ scale, offsetMPerS, unit }: Case, trueMPerS: number) =>
  `${sideText(unit, (scale.value - 1) * trueMPerS + offsetMPerS.value)} at a true speed of ${speedText(unit, trueMPerS)}`

function offsetFinding(one: Case): HeadFinding[] {
  const { offsetMPerS, isOffsetSignificant, scale, input, unit, lowestMPerS, highestMPerS } = one
  if (!isOffsetSignificant) return []
  const amount = `${speedText(unit, Math.abs(offsetMPerS.value), [0])} ${offsetMPerS.value > 0 ? 'over' : 'under'}`
  const [none, cause] =
    input === 'turns'
      ? [
          'no ratio',
          'Adjust the low end with the hairspring regulator at 10 mph, or reset the pointer on its spindle.',
        ]
      : ['no number of pulses', 'Correct the zero of the display or movement.']
  // With a scale error as well, the total error differs at each speed.
  const text =
    stateOf(scale) === 'right'
      ? `An offset: ${amount} at every speed, which ${none} causes or corrects. ${cause}`
      : `An offset (${amount}) in addition to the scale error: together ${errorText(one, lowestMPerS)}, ${errorText(one, highestMPerS)}; ${none} corrects an offset. ${cause}`
  return [cautionNote('low-end-off', text)]
}

function springFindings(one: Case, headScale: Figure): HeadFinding[] {
  const { odometerPerTrue, unit, highestMPerS, offsetMPerS, isOffsetSignificant } = one
  // The odometer shows how fast the head is driven.
  const drivenMPerS = (odometerPerTrue?.value ?? 1) * highestMPerS
  const overMPerS = (headScale.value - 1) * drivenMPerS
  const withOffsetMPerS = overMPerS + offsetMPerS.value
  const scale = `The head itself ${overMPerS > 0 ? 'over-reads' : 'under-reads'} by ${percentText(Math.abs(headScale.value - 1))}: ${speedText(unit, Math.abs(overMPerS))} at the highest speed read`
  const scaleText = isOffsetSignificant
    ? `${scale}, and with its offset ${sideText(unit, withOffsetMPerS)}`
    : scale
  if (overMPerS > 0) {
    const coils = overMPerS / COIL_M_PER_S
    return [
      coils <= MAX_COILS
        ? cautionNote(
            'spring-or-magnet-high',
            `${scaleText}. The hairspring is too weak for the magnet. Cutting one coil lowers the high end by about 6 mph, so this error corresponds to ${coils.toFixed(1)} coils. Never cut more than three, and cut a little at a time: a cut cannot be undone.`,
          )
        : cautionNote(
            'beyond-the-spring',
            `${scaleText}. The correction would take more than three coils of the hairspring: the spring is wrong or damaged, or the magnet belongs to another head.`,
          ),
    ]
  }
  return [
    cautionNote(
      'spring-or-magnet-low',
      `${scaleText}. Causes: a weak magnet, a hairspring that is too stiff or rubs, or a dragging cup.${withOffsetMPerS < 0 ? ' Do not rely on a head that under-reads.' : ''}`,
    ),
  ]
}

function scaleFindings(one: Case, headScale: Figure): HeadFinding[] {
  if (one.input === 'turns') return springFindings(one, headScale)
  const against =
    one.odometerPerTrue === undefined
      ? 'the speed given by the pulses'
      : 'the odometer driven by the same pulses'
  return [
    cautionNote(
      'display-scale-off',
      `The speed scale is off by ${percent(headScale)} against ${against}: the fault is in the display or movement, or in its conversion of periods into speed, not in the pulses per distance.`,
    ),
  ]
}

/** Finding for an odometer error: it shows the ratio that drives the head, or on a bench the constant used to drive it. */
function odometerFinding(
  { on }: Case,
  odometerPerTrue: Figure,
  correctBy: Diagnosis['correctBy'],
): HeadFinding {
  if (on === 'bench') {
    return {
      code: 'constant-off',
      level: 'fail',
      text: `The odometer is off by ${percent(odometerPerTrue)} against the drive of the bench: the bench was set to another constant than that of the head, or its odometer was exchanged. Look for the constant on its dial. The ratio of the car plays no part in this.`,
    }
  }
  const by =
    correctBy === 'distance'
      ? 'by this error, not by that of the speed'
      : 'by the error of the speed, which agrees with it and has less uncertainty'
  return {
    code: 'ratio-off',
    level: 'fail',
    text: `The odometer is off by ${percent(odometerPerTrue)}, so the ratio from wheel to head is wrong: tires, gears, adapter, scaler or constant. Correct the ratio first, ${by}.`,
  }
}

function faultOf(on: Case['on'], ratio: State, own: State, isOffsetSignificant: boolean): Diagnosis['fault'] {
  const headWrong = own === 'wrong' || isOffsetSignificant
  if (on === 'bench') {
    if (headWrong || ratio === 'wrong') return 'head'
    return own === 'right' ? 'none' : 'not-distinguishable'
  }
  if (ratio === 'wrong')
    return headWrong ? 'ratio-and-head' : own === 'right' ? 'ratio' : 'not-distinguishable'
  if (ratio === 'right') return headWrong ? 'head' : own === 'right' ? 'none' : 'not-distinguishable'
  return 'not-distinguishable'
}

/** In the car, without a distance check: the scale error may come from the ratio or from the head. */
function withoutDistanceCheck(one: Case): Diagnosis {
  const state = stateOf(one.scale)
  const findings = offsetFinding(one)
  if (state === 'wrong') {
    findings.push(
      infoNote(
        'distance-check-wanted',
        `The scale of the dial is off by ${percent(one.scale)}, and speed readings alone cannot distinguish ratio from head: compare the odometer with a known distance and give the result as distanceCheck. If the odometer is off by as much, the ratio is wrong; if it is right, the spring or the magnet is at fault.`,
      ),
    )
  }
  const { isOffsetSignificant } = one
  const fault = state === 'right' ? (isOffsetSignificant ? 'head' : 'none') : 'not-distinguishable'
  return { fault, correctBy: 'speed', isHeadOut: isOffsetSignificant, findings }
}

/** On a bench without a distance check: without the ratio of the car, any error is the head's own. */
function headAlone(one: Case): Diagnosis {
  const own = stateOf(one.scale)
  const findings = offsetFinding(one)
  if (own === 'wrong') findings.push(...scaleFindings(one, one.scale))
  return {
    fault: faultOf('bench', 'unknown', own, one.isOffsetSignificant),
    correctBy: 'speed',
    isHeadOut: own === 'wrong' || one.isOffsetSignificant,
    headScale: one.scale,
    findings,
  }
}

function byDistanceCheck(one: Case, odometerPerTrue: Figure): Diagnosis {
  const { scale, on, isOffsetSignificant } = one
  const headScale = quotient(scale, odometerPerTrue)
  const ratio = stateOf(odometerPerTrue)
  const own = stateOf(headScale)
  const isHeadOut = own === 'wrong' || isOffsetSignificant
  const isOdometerBetter = relativeUncertainty(odometerPerTrue) <= relativeUncertainty(scale)
  // Where the head is right both estimate the error of the ratio: the one with less uncertainty counts.
  const byDistance = isHeadOut ? ratio !== 'unknown' : own === 'right' ? isOdometerBetter : ratio === 'wrong'
  const correctBy = byDistance ? 'distance' : 'speed'
  const findings = offsetFinding(one)
  if (ratio === 'wrong') findings.push(odometerFinding(one, odometerPerTrue, correctBy))
  if (own === 'wrong') findings.push(...scaleFindings(one, headScale))
  if (ratio === 'unknown' || own === 'unknown') {
    const known = `The uncertainty is ${percentText(plusMinus(odometerPerTrue))} for the distance check and ${percentText(plusMinus(headScale))} for the head's own scale`
    const inconclusive =
      on === 'bench' ? 'too much to judge the head' : 'too much to distinguish ratio from head'
    findings.push(
      infoNote(
        'distance-check-too-short',
        `${known}: ${inconclusive}. Use a longer distance, or take more speed readings.`,
      ),
    )
  }
  return { fault: faultOf(on, ratio, own, isOffsetSignificant), correctBy, isHeadOut, headScale, findings }
}

/**
 * Whether the fault of a wrong dial is in the ratio that drives it, or in the head.
 *
 *     R = odometer/true distance, the ratio error, which speed and odometer share      H = b/R, the head's own scale
 *     R ≠ 1, H = 1: ratio      R = 1, H ≠ 1 or offset ≠ 0: spring or magnet      neither proven: not distinguishable
 *     on a bench, without the ratio of the car: R = 1 unless the odometer was checked, H = b
 *
 * b is indicated ÷ true speed.
 *
 * If the odometer is right and the speed wrong, the fault is in spring or magnet, not in the ratio. A factor differs from 1 if 1 lies outside its
 * uncertainty; otherwise it equals 1 if its uncertainty is below 3 %. The correction uses R where the head is wrong, and R or b, whichever has less
 * uncertainty, where the head is right.
 *
 * @param symptoms - Scale and offset of a calibration, the distance check where there is one
 * @returns Place of the fault, error to correct by, the head's own scale, and findings with advice
 * @throws {DomainError} `not-finite`
 * @see US War Department TM 9-1829A (1944); US Army TM 5-3805-254-14&P-2
 * @example diagnoseHead({ scale: uncertain(1.08, 'b', 0.003), offsetMPerS: exact(0), odometerPerTrue: uncertain(1, 'r', 0.003), lowestMPerS: 10, highestMPerS: 25 }).fault // "head"
 * @example diagnoseHead({ scale: uncertain(1.08, 'b', 0.003), offsetMPerS: exact(0), odometerPerTrue: uncertain(1.08, 'r', 0.003), lowestMPerS: 10, highestMPerS: 25 }).fault // "ratio"
 * @example diagnoseHead({ scale: uncertain(1.08, 'b', 0.003), offsetMPerS: exact(0), on: 'bench', lowestMPerS: 10, highestMPerS: 25 }).fault // "head"
 */
export function diagnoseHead(symptoms: Symptoms): Diagnosis {
  const { offsetMPerS, odometerPerTrue, input = 'turns', on = 'road', unit = 'mph' } = symptoms
  const isOffsetSignificant =
    offsetMPerS.value !== 0 &&
    Math.abs(offsetMPerS.value) > COVERAGE_FACTOR * standardUncertainty(offsetMPerS)
  const one = { ...symptoms, input, on, unit, odometerPerTrue, isOffsetSignificant }
  if (odometerPerTrue !== undefined) return byDistanceCheck(one, odometerPerTrue)
  return on === 'bench' ? headAlone(one) : withoutDistanceCheck(one)
}
