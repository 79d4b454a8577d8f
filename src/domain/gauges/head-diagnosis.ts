import { COVERAGE_FACTOR, type Figure, plusMinus, quotient, standardUncertainty } from '../measure/figure.js'
import { toSi } from '../measure/units.js'
import type { SpeedUnit } from '../vehicles/vehicle.js'
import { percentText, speedText } from '../vehicles/words.js'

export interface HeadFinding {
  readonly code: string
  readonly level: 'fail' | 'caution' | 'info'
  readonly text: string
}

export interface Symptoms {
  /** Indicated per true speed. */
  readonly scale: Figure
  readonly offsetMPerS: Figure
  /** Recorded per true distance, from a distance check. */
  readonly odometerPerTrue?: Figure
  /** What drives the head; left out: turns. */
  readonly takes?: 'turns' | 'pulses'
  /** Where it was read: the head alone on a bench, where no ratio drives it, or in the car; left out: in the car. */
  readonly on?: 'bench' | 'road'
  /** Unit of the dial; left out: mph. */
  readonly unit?: SpeedUnit
  /** Lowest and highest speed that was read [m/s]. */
  readonly lowestMPerS: number
  readonly highestMPerS: number
}

export interface Diagnosis {
  readonly fault: 'none' | 'ratio' | 'head' | 'ratio-and-head' | 'not-distinguishable'
  /** The error by which a number is to be set: that of the speed, or that of the odometer. */
  readonly correctBy: 'speed' | 'distance'
  /** Whether its own scale or its offset is proven wrong, whatever drives it. */
  readonly isHeadOut: boolean
  /** Own scale of the head: speed error that the odometer does not share. */
  readonly headScale?: Figure
  readonly findings: readonly HeadFinding[]
}

/** A scale known no better than this says neither right nor wrong, as a fraction (95 %). */
const WORST_USABLE_DOUBT = 0.03

/** What one coil less of the hairspring takes off at the high end (TM 9-1829A), and the most coils ever cut. */
const COIL_M_PER_S = toSi('speed', 'mph', 6)
const MAX_COILS = 3

type State = 'right' | 'wrong' | 'unknown'

function stateOf(factor: Figure): State {
  const uncertainty = plusMinus(factor)
  if (Math.abs(factor.value - 1) > uncertainty && uncertainty < WORST_USABLE_DOUBT) return 'wrong'
  if (Math.abs(factor.value - 1) > COVERAGE_FACTOR * uncertainty) return 'wrong'
  return uncertainty < WORST_USABLE_DOUBT ? 'right' : 'unknown'
}

/** An error and its uncertainty, so finely that one is told from the other. */
function percent(factor: Figure): string {
  const error = factor.value - 1
  const compared = [Math.abs(error), plusMinus(factor)]
  const uncertainty = percentText(plusMinus(factor), compared).replace(' %', '')
  return `${percentText(error, compared)} (plus or minus ${uncertainty})`
}

const relativeUncertainty = (factor: Figure) => standardUncertainty(factor) / factor.value

/** What was found, and what it is put into words with. */
interface Case extends Required<Omit<Symptoms, 'odometerPerTrue'>> {
  readonly odometerPerTrue: Figure | undefined
  readonly offsetShows: boolean
}

const sideText = (unit: SpeedUnit, errorMPerS: number) =>
  `${speedText(unit, Math.abs(errorMPerS))} ${errorMPerS < 0 ? 'under' : 'over'}`

/** What the dial shows at a true speed, against it. */
const errorText = ({ scale, offsetMPerS, unit }: Case, trueMPerS: number) =>
  `${sideText(unit, (scale.value - 1) * trueMPerS + offsetMPerS.value)} at a true ${speedText(unit, trueMPerS)}`

function offsetFinding(one: Case): HeadFinding[] {
  const { offsetMPerS, offsetShows, scale, takes, unit, lowestMPerS, highestMPerS } = one
  if (!offsetShows) return []
  const much = `${speedText(unit, Math.abs(offsetMPerS.value), [0])} too ${offsetMPerS.value > 0 ? 'much' : 'little'}`
  const [none, cause] =
    takes === 'turns'
      ? [
          'no ratio',
          'The hairspring regulator sets the low end; set it at 10 mph, or the pointer sits wrong on its shaft.',
        ]
      : ['no number of pulses', 'The zero of the display or movement is off.']
  // Beside an error of scale the two add up to another error at each speed.
  const text =
    stateOf(scale) === 'right'
      ? `The same ${much} at every speed: ${none} does that. ${cause}`
      : `An offset of ${much} comes on top of the error of scale: together ${errorText(one, lowestMPerS)}, ${errorText(one, highestMPerS)}; ${none} mends an offset. ${cause}`
  return [{ code: 'low-end-off', level: 'caution', text }]
}

function springFindings(one: Case, headScale: Figure): HeadFinding[] {
  const { odometerPerTrue, unit, highestMPerS, offsetMPerS, offsetShows } = one
  // The head is driven as fast as its record counts.
  const drivenMPerS = (odometerPerTrue?.value ?? 1) * highestMPerS
  const overMPerS = (headScale.value - 1) * drivenMPerS
  const withOffsetMPerS = overMPerS + offsetMPerS.value
  const scale = `The scale of the head is ${percentText(Math.abs(headScale.value - 1))} ${overMPerS > 0 ? 'high' : 'low'}: ${speedText(unit, Math.abs(overMPerS))} at the highest speed read`
  const scaleText = offsetShows ? `${scale}, and with its offset ${sideText(unit, withOffsetMPerS)}` : scale
  if (overMPerS > 0) {
    const coils = overMPerS / COIL_M_PER_S
    return [
      coils <= MAX_COILS
        ? {
            code: 'spring-or-magnet-high',
            level: 'caution',
            text: `${scaleText}. The hairspring is too weak for the magnet. One coil less takes about 6 mph off at the high end, so this asks for ${coils.toFixed(1)} coils; never cut more than three, and cut in parts: what is cut does not come back.`,
          }
        : {
            code: 'beyond-the-spring',
            level: 'caution',
            text: `${scaleText}. More than three coils of the hairspring would correct, so the spring is the wrong one or damaged, or the magnet is not its own.`,
          },
    ]
  }
  return [
    {
      code: 'spring-or-magnet-low',
      level: 'caution',
      text: `${scaleText}. A magnet that has lost strength, a hairspring that is too stiff or rubs, or a cup that drags does this.${withOffsetMPerS < 0 ? ' A head that under-reads is not to be driven by.' : ''}`,
    },
  ]
}

function scaleFindings(one: Case, headScale: Figure): HeadFinding[] {
  if (one.takes === 'turns') return springFindings(one, headScale)
  const against =
    one.odometerPerTrue === undefined
      ? 'the speed that the pulses stand for'
      : 'the odometer of the same pulses'
  return [
    {
      code: 'display-scale-off',
      level: 'caution',
      text: `The scale of speed is out by ${percent(headScale)} against ${against}: the fault lies in the display or movement, or in how it turns periods into speed, not in the pulses per distance.`,
    },
  ]
}

/** What an odometer that is out says: of the ratio that drives the head, or on a bench of the constant that it was driven by. */
function recordFinding(
  { on }: Case,
  odometerPerTrue: Figure,
  correctBy: Diagnosis['correctBy'],
): HeadFinding {
  if (on === 'bench') {
    return {
      code: 'constant-off',
      level: 'fail',
      text: `The head counted a distance that is out by ${percent(odometerPerTrue)} against its drive: the constant by which it was driven is not its own, or its counter was changed. Look for the number on its dial. No ratio of the car is in this.`,
    }
  }
  const by =
    correctBy === 'distance'
      ? 'by that factor, not by the error of the speed'
      : 'by the error of the speed, which agrees with it and is known better'
  return {
    code: 'ratio-off',
    level: 'fail',
    text: `The odometer is out by ${percent(odometerPerTrue)}, so the ratio from wheel to head is: tires, gears, adapter, scaler or constant. Correct that first, and ${by}.`,
  }
}

function faultOf(on: Case['on'], ratio: State, own: State, offsetShows: boolean): Diagnosis['fault'] {
  const headWrong = own === 'wrong' || offsetShows
  if (on === 'bench') {
    if (headWrong || ratio === 'wrong') return 'head'
    return own === 'right' ? 'none' : 'not-distinguishable'
  }
  if (ratio === 'wrong')
    return headWrong ? 'ratio-and-head' : own === 'right' ? 'ratio' : 'not-distinguishable'
  if (ratio === 'right') return headWrong ? 'head' : own === 'right' ? 'none' : 'not-distinguishable'
  return 'not-distinguishable'
}

/** In the car, without a record to compare with: the scale may be that of the ratio or that of the head. */
function withoutRecord(one: Case): Diagnosis {
  const state = stateOf(one.scale)
  const findings = offsetFinding(one)
  if (state === 'wrong') {
    findings.push({
      code: 'distance-check-wanted',
      level: 'info',
      text: `The scale of the dial is out by ${percent(one.scale)}, and speed alone cannot say whether ratio or head: compare the odometer with a known distance and give it as distanceCheck. Wrong by as much: the ratio. Right: spring or magnet.`,
    })
  }
  const { offsetShows } = one
  const fault = state === 'right' ? (offsetShows ? 'head' : 'none') : 'not-distinguishable'
  return { fault, correctBy: 'speed', isHeadOut: offsetShows, findings }
}

/** On a bench no ratio drives the head: what is wrong is its own. */
function headAlone(one: Case): Diagnosis {
  const own = stateOf(one.scale)
  const findings = offsetFinding(one)
  if (own === 'wrong') findings.push(...scaleFindings(one, one.scale))
  return {
    fault: faultOf('bench', 'unknown', own, one.offsetShows),
    correctBy: 'speed',
    isHeadOut: own === 'wrong' || one.offsetShows,
    headScale: one.scale,
    findings,
  }
}

function byRecord(one: Case, odometerPerTrue: Figure): Diagnosis {
  const { scale, on, offsetShows } = one
  const headScale = quotient(scale, odometerPerTrue)
  const ratio = stateOf(odometerPerTrue)
  const own = stateOf(headScale)
  const isHeadOut = own === 'wrong' || offsetShows
  const isRecordBetter = relativeUncertainty(odometerPerTrue) <= relativeUncertainty(scale)
  // Where the head is right both are the error of the ratio, and the one that is known better counts.
  const byDistance = isHeadOut ? ratio !== 'unknown' : own === 'right' ? isRecordBetter : ratio === 'wrong'
  const correctBy = byDistance ? 'distance' : 'speed'
  const findings = offsetFinding(one)
  if (ratio === 'wrong') findings.push(recordFinding(one, odometerPerTrue, correctBy))
  if (own === 'wrong') findings.push(...scaleFindings(one, headScale))
  if (ratio === 'unknown' || own === 'unknown') {
    const known = `The distance check is good to ${percentText(plusMinus(odometerPerTrue))} and the head's own scale to ${percentText(plusMinus(headScale))}`
    const little = on === 'bench' ? 'too little to judge the head' : 'too little to tell ratio from head'
    findings.push({
      code: 'distance-check-too-short',
      level: 'info',
      text: `${known}: ${little}. A longer distance, or more readings of speed, decides.`,
    })
  }
  return { fault: faultOf(on, ratio, own, offsetShows), correctBy, isHeadOut, headScale, findings }
}

/**
 * Whether a wrong dial has its fault in the ratio that drives it, or in the head.
 *
 *     R = recorded/true distance: shared by speed and distance, the ratio      H = b/R: the head's own scale
 *     R ≠ 1, H = 1: ratio      R = 1, H ≠ 1 or offset ≠ 0: spring or magnet      neither proven: not told apart
 *     on a bench no ratio drives the head: R = 1 unless its record was compared, H = b
 *
 * b is what is indicated per true speed.
 *
 * A head right in distance and wrong in speed has its fault in spring or magnet, not in the ratio. A factor differs from 1 when it
 * lies outside its uncertainty; it is 1 when that uncertainty is below 3 %. A number is set by R where the head is wrong, and by whichever of R and b is
 * known better where it is right.
 *
 * @param symptoms - Scale and offset of a calibration, the distance check where there is one
 * @returns Where the fault lies, by which error to correct, the head's own scale, findings with what to do
 * @throws {DomainError} `not-finite`
 * @see US War Department TM 9-1829A (1944); US Army TM 5-3805-254-14&P-2
 * @example diagnoseHead({ scale: uncertain(1.08, 'b', 0.003), offsetMPerS: exact(0), odometerPerTrue: uncertain(1, 'r', 0.003), lowestMPerS: 10, highestMPerS: 25 }).fault // "head"
 * @example diagnoseHead({ scale: uncertain(1.08, 'b', 0.003), offsetMPerS: exact(0), odometerPerTrue: uncertain(1.08, 'r', 0.003), lowestMPerS: 10, highestMPerS: 25 }).fault // "ratio"
 * @example diagnoseHead({ scale: uncertain(1.08, 'b', 0.003), offsetMPerS: exact(0), on: 'bench', lowestMPerS: 10, highestMPerS: 25 }).fault // "head"
 */
export function diagnoseHead(symptoms: Symptoms): Diagnosis {
  const { offsetMPerS, odometerPerTrue, takes = 'turns', on = 'road', unit = 'mph' } = symptoms
  const offsetShows =
    offsetMPerS.value !== 0 &&
    Math.abs(offsetMPerS.value) > COVERAGE_FACTOR * standardUncertainty(offsetMPerS)
  const one = { ...symptoms, takes, on, unit, odometerPerTrue, offsetShows }
  if (odometerPerTrue !== undefined) return byRecord(one, odometerPerTrue)
  return on === 'bench' ? headAlone(one) : withoutRecord(one)
}
