import { COVERAGE_FACTOR, type Figure, plusMinus, quotient, standardUncertainty } from '../measure/figure.js'
import { fromSi, toSi } from '../measure/units.js'

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
  readonly recordedPerTrue?: Figure
  /** What drives the head; left out: turns. */
  readonly takes?: 'turns' | 'pulses'
  /** Highest speed that was read [m/s]. */
  readonly highestMPerS: number
}

export interface Diagnosis {
  readonly fault: 'none' | 'ratio' | 'head' | 'ratio-and-head' | 'not-told-apart'
  /** Own scale of the head: speed error that the distance record does not share. */
  readonly headScale?: Figure
  readonly findings: readonly HeadFinding[]
}

/** A scale known no better than this says neither right nor wrong, as a fraction (95 %). */
const WORST_USABLE_DOUBT = 0.03

/** What one coil less of the hairspring takes off at the high end (TM 9-1829A), and the most coils ever cut. */
const COIL_M_PER_S = toSi('speed', 'mph', 6)
const MOST_COILS = 3

type State = 'right' | 'wrong' | 'unknown'

function stateOf(factor: Figure): State {
  const doubt = plusMinus(factor)
  if (Math.abs(factor.value - 1) > doubt && doubt < WORST_USABLE_DOUBT) return 'wrong'
  if (Math.abs(factor.value - 1) > COVERAGE_FACTOR * doubt) return 'wrong'
  return doubt < WORST_USABLE_DOUBT ? 'right' : 'unknown'
}

const percent = (factor: Figure) =>
  `${((factor.value - 1) * 100).toFixed(1)} % (plus or minus ${(plusMinus(factor) * 100).toFixed(1)})`

function springFindings(headScale: Figure, highestMPerS: number): HeadFinding[] {
  const overMPerS = (headScale.value - 1) * highestMPerS
  if (overMPerS > 0) {
    const coils = overMPerS / COIL_M_PER_S
    const mph = fromSi('speed', 'mph', overMPerS).toFixed(1)
    return [
      coils <= MOST_COILS
        ? {
            code: 'spring-or-magnet-high',
            level: 'caution',
            text: `The head itself reads ${mph} mph over at the highest speed read: the hairspring is too weak for the magnet. One coil less takes about 6 mph off at the high end, so this asks for ${coils.toFixed(1)} coils; never cut more than three, and cut in parts: what is cut does not come back.`,
          }
        : {
            code: 'beyond-the-spring',
            level: 'caution',
            text: `The head itself reads ${mph} mph over at the highest speed read: more than three coils of the hairspring would correct, so the spring is the wrong one or damaged, or the magnet is not its own.`,
          },
    ]
  }
  return [
    {
      code: 'spring-or-magnet-low',
      level: 'caution',
      text: 'The head itself reads under and more so with speed: a magnet that has lost strength, a hairspring that is too stiff or rubs, or a cup that drags. A head that under-reads is not to be driven by.',
    },
  ]
}

/**
 * Whether a wrong dial has its fault in the ratio that drives it, or in the head.
 *
 *     R = recorded/true distance: shared by speed and distance, the ratio      H = b/R: the head's own scale
 *     R ≠ 1, H = 1: ratio      R = 1, H ≠ 1 or offset ≠ 0: spring or magnet      neither proven: not told apart
 *
 * A head right in distance and wrong in speed has its fault in spring or magnet, not in the ratio. A factor differs from 1 when it
 * lies outside its doubt; it is 1 when that doubt is below 3 %.
 *
 * @param symptoms - Scale and offset of a calibration, the distance check where there is one
 * @returns Where the fault lies, the head's own scale, findings with what to do
 * @throws {DomainError} `not-finite`
 * @see US War Department TM 9-1829A (1944); US Army TM 5-3805-254-14&P-2
 * @example diagnoseHead({ scale: uncertain(1.08, 'b', 0.003), offsetMPerS: exact(0), recordedPerTrue: uncertain(1, 'r', 0.003), highestMPerS: 25 }).fault // "head"
 * @example diagnoseHead({ scale: uncertain(1.08, 'b', 0.003), offsetMPerS: exact(0), recordedPerTrue: uncertain(1.08, 'r', 0.003), highestMPerS: 25 }).fault // "ratio"
 */
export function diagnoseHead(symptoms: Symptoms): Diagnosis {
  const { scale, offsetMPerS, recordedPerTrue, takes = 'turns', highestMPerS } = symptoms
  const findings: HeadFinding[] = []
  const offsetShows = Math.abs(offsetMPerS.value) > COVERAGE_FACTOR * standardUncertainty(offsetMPerS)
  if (offsetShows && offsetMPerS.value !== 0) {
    const mph = fromSi('speed', 'mph', offsetMPerS.value)
    findings.push({
      code: 'low-end-off',
      level: 'caution',
      text:
        takes === 'turns'
          ? `The same ${Math.abs(mph).toFixed(1)} mph too ${mph > 0 ? 'much' : 'little'} at every speed: no ratio does that. The hairspring regulator sets the low end; set it at 10 mph, or the pointer sits wrong on its shaft.`
          : `The same ${Math.abs(mph).toFixed(1)} mph too ${mph > 0 ? 'much' : 'little'} at every speed: no number of pulses does that. The zero of the display or movement is off.`,
    })
  }
  if (recordedPerTrue === undefined) {
    const state = stateOf(scale)
    if (state === 'wrong') {
      findings.push({
        code: 'distance-check-wanted',
        level: 'info',
        text: `The dial is out by ${percent(scale)}, and speed alone cannot say whether ratio or head: compare the distance record with a known distance and give it as distanceCheck. Wrong by as much: the ratio. Right: spring or magnet.`,
      })
    }
    const fault = state === 'right' ? (offsetShows ? 'head' : 'none') : 'not-told-apart'
    return { fault, findings }
  }

  const headScale = quotient(scale, recordedPerTrue)
  const ratio = stateOf(recordedPerTrue)
  const own = stateOf(headScale)
  const headWrong = own === 'wrong' || offsetShows
  if (ratio === 'wrong') {
    findings.push({
      code: 'ratio-off',
      level: 'fail',
      text: `The distance record is out by ${percent(recordedPerTrue)}, so the ratio from wheel to head is: tires, gears, adapter, scaler or constant. Correct that first, and by that factor, not by the error of the speed.`,
    })
  }
  if (own === 'wrong') {
    if (takes === 'turns') findings.push(...springFindings(headScale, highestMPerS))
    else {
      findings.push({
        code: 'display-scale-off',
        level: 'caution',
        text: `Speed is out by ${percent(headScale)} against the distance record of the same pulses: the fault lies in the display or movement, or in how it turns periods into speed, not in the pulses per distance.`,
      })
    }
  }
  if (ratio === 'unknown' || own === 'unknown') {
    findings.push({
      code: 'distance-check-too-short',
      level: 'info',
      text: `The distance check is good to ${(plusMinus(recordedPerTrue) * 100).toFixed(1)} % and the head's own scale to ${(plusMinus(headScale) * 100).toFixed(1)} %: too little to tell ratio from head. A longer distance, or more readings of speed, decides.`,
    })
  }
  const fault =
    ratio === 'wrong' && headWrong
      ? 'ratio-and-head'
      : ratio === 'wrong' && own === 'right'
        ? 'ratio'
        : ratio === 'right' && headWrong
          ? 'head'
          : ratio === 'right' && own === 'right'
            ? 'none'
            : 'not-told-apart'
  return { fault, headScale, findings }
}
