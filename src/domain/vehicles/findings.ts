import { readingOf } from '../drive-paths/path.js'
import { exact } from '../measure/figure.js'
import { quotient } from '../measure/propagation.js'
import { plusMinus } from '../measure/uncertainty.js'
import { toSi } from '../measure/units.js'
import type { Mutable } from '../mutable.js'
import { lowestSpeedMPerS, timerStepShare } from '../pulses/timing.js'
import { factorOff, INPUT_ERROR_FACTOR, underReading } from './aim.js'
import { type InputError, likelyInputErrors } from './input-errors.js'
import { measuredFindings } from './measured-findings.js'
import { DRIVE_BY_REFERENCE, RECORD_ERROR, ruleFindings } from './rule-findings.js'
import type { Axle, EvaluatedPath, Finding, FindingLevel, Vehicle } from './vehicle.js'
import { percentText, probabilityText, speedText } from './words.js'

/** Thresholds of findings; common practice, no source, unless said. */
const THRESHOLDS = {
  /** Maximum error of an odometer in several rules (StVZO 57(3); ADR 18; AETR in use). */
  odometerFraction: 0.04,
  /** Walking pace in traffic should still show on the dial. [m/s] */
  lowestSpeedMPerS: toSi('speed', 'kmh', 5),
  /** Maximum time that the dial may still show a speed after a stop. [s] */
  staleS: 2,
  /** Resolution of the timer at top speed, as a fraction of the speed. */
  timerStep: 0.005,
  /** Lag of the filter at town speed. [s] */
  lagS: 1,
  townMPerS: toSi('speed', 'kmh', 30),
  /** Difference of the rolling circumferences of the axles, as a fraction. */
  axleDifference: 0.01,
  /** Scale error of the head that points to spring or magnet while the odometer is right. */
  headScale: 0.03,
  headDistance: 0.02,
  /** Difference between two dials of one car, as a fraction. */
  dialDifference: 0.02,
} as const

const LEVELS: Readonly<Record<FindingLevel, number>> = { fail: 0, caution: 1, info: 2 }

/** What to check in a profile whose reading is far from true: the input errors that explain it, or else the common ones. */
function whereToLook(evaluated: EvaluatedPath, inputErrors: readonly InputError[]): string[] {
  const { path, line, basis } = evaluated
  const texts = inputErrors.map(({ text }) => text)
  const missesFinalDrive = path.stages.every(({ kind }) => kind !== 'final-drive')
  if (basis === 'computed' && line.indicatedPerTrue.value < 1 && missesFinalDrive)
    texts.push('a final drive missing from the stages (a drive from the gearbox needs one)')
  if (texts.length > 0) return texts
  return basis === 'measured-reading'
    ? ['the measured reading']
    : ['swapped teeth', 'the unit of the constant', 'a stage that is missing or entered twice']
}

function inputErrorFindings(evaluated: EvaluatedPath): Finding[] {
  const { path, index, line } = evaluated
  const slope = line.indicatedPerTrue.value
  const inputErrors = likelyInputErrors(evaluated)
  const shows = `By this profile the ${path.name} indicates ${slope.toPrecision(3)} times the true speed`
  if (factorOff(slope) <= INPUT_ERROR_FACTOR) {
    return inputErrors.map(({ pointer, text, look, indicatedPerTrue }) => ({
      code: 'likely-input-error',
      level: 'caution',
      pointer,
      text: `${shows}. A likely input error explains this: ${text}. Corrected, it indicates ${indicatedPerTrue.toPrecision(3)} times the true speed.`,
      remedy: `Before changing any part, ${look}.`,
    }))
  }
  return [
    {
      code: 'reading-far-off',
      level: 'caution',
      pointer: `/paths/${index}`,
      text: `${shows}, a larger error than matching parts ever have: most likely the profile contains an input error.`,
      remedy: `Before changing any part, check for ${whereToLook(evaluated, inputErrors).join(', or ')}.`,
    },
  ]
}

/** Findings on whether the dial under-reads. */
function underReadingFindings({ path, index, line, speedsMPerS }: EvaluatedPath): Finding[] {
  const pointer = `/paths/${index}`
  const reading = readingOf(line)
  const { probability, atMPerS } = underReading(reading, speedsMPerS)
  const shown = reading(atMPerS).indicatedMPerS
  const compared = [shown, atMPerS]
  if (probability >= 0.95) {
    return [
      {
        code: 'under-reads',
        level: 'fail',
        pointer,
        text: `The ${path.name} under-reads: it indicates ${speedText(path.unit, shown, compared)} at a true speed of ${speedText(path.unit, atMPerS, compared)}.`,
        remedy: DRIVE_BY_REFERENCE,
      },
    ]
  }
  if (!(probability > 0.05)) return []
  return [
    {
      code: 'may-under-read',
      level: 'caution',
      pointer,
      text: `The ${path.name} may under-read: probability ${probabilityText(probability, 2)} at a true speed of ${speedText(path.unit, atMPerS)}.`,
      remedy:
        'Calibrate on the road or measure the rolling circumference, then aim for a slight over-reading.',
    },
  ]
}

/** The error of an odometer that no finding on the rule states. It is recorded only from a profile that is right. */
function odometerFindings({ index, line, verdict }: EvaluatedPath, isInputErrorLikely: boolean): Finding[] {
  const error = line.odometerPerTrue.value - 1
  const isStated = verdict?.distance !== undefined && verdict.distance.result !== 'conforms'
  if (isStated || !(Math.abs(error) > THRESHOLDS.odometerFraction)) return []
  const finding: Mutable<Finding> = {
    code: 'odometer-off',
    level: 'caution',
    pointer: `/paths/${index}`,
    text: `The odometer ${error > 0 ? 'over-reads' : 'under-reads'} by ${percentText(Math.abs(error))}.`,
  }
  if (!isInputErrorLikely) finding.remedy = RECORD_ERROR
  return [finding]
}

function dialEndFindings({ topSpeedMPerS }: Vehicle, { path, index, line }: EvaluatedPath): Finding[] {
  const { dialMaxMPerS } = path.head
  if (dialMaxMPerS === undefined || topSpeedMPerS === undefined) return []
  const { indicatedMPerS } = readingOf(line)(topSpeedMPerS)
  if (!(indicatedMPerS > dialMaxMPerS)) return []
  return [
    {
      code: 'dial-ends-below-top-speed',
      level: 'caution',
      pointer: `/paths/${index}/head/dialMax`,
      text: `At top speed the ${path.name} would indicate ${speedText(path.unit, indicatedMPerS)}, beyond its last mark.`,
    },
  ]
}

function headFindings({ path, index, line }: EvaluatedPath): Finding[] {
  const odometerError = line.odometerPerTrue.value - 1
  const scale = path.head.scale.value - 1
  if (!(Math.abs(scale) > THRESHOLDS.headScale && Math.abs(odometerError) < THRESHOLDS.headDistance))
    return []
  return [
    {
      code: 'head-at-fault',
      level: 'caution',
      pointer: `/paths/${index}/head`,
      text: `The odometer is right within ${percentText(Math.abs(odometerError))} and the speed is off by ${percentText(Math.abs(scale))}: the fault is in the head (spring or magnet), not in the ratio.`,
      remedy: 'Have the head recalibrated; changing gears would make the odometer wrong.',
    },
  ]
}

function oneWheelFindings({ path, index, basis }: EvaluatedPath): Finding[] {
  if (basis !== 'computed' || path.stages.some(({ kind }) => kind === 'final-drive')) return []
  return [
    {
      code: 'driven-by-one-wheel',
      level: 'info',
      pointer: `/paths/${index}`,
      text: `No final drive is among the stages, so one wheel drives the ${path.name}: in a bend it over-reads on the outer wheel and under-reads on the inner one, by half the track width over the radius, about 6 % at a radius of 10 m. A drive from the gearbox needs its final drive as a stage.`,
    },
  ]
}

const readingFindings = (
  vehicle: Vehicle,
  evaluated: EvaluatedPath,
  isInputErrorLikely: boolean,
): Finding[] => [
  ...underReadingFindings(evaluated),
  ...odometerFindings(evaluated, isInputErrorLikely),
  ...dialEndFindings(vehicle, evaluated),
  ...headFindings(evaluated),
  ...oneWheelFindings(evaluated),
  ...measuredFindings(evaluated),
]

function pulseFindings(vehicle: Vehicle, { path, index, outputPerM, speedsMPerS }: EvaluatedPath): Finding[] {
  const pointer = `/paths/${index}/pulse`
  const found: Finding[] = []
  const { pulse } = path
  if (path.head.input === 'turns') {
    if (pulse !== undefined) {
      found.push({
        code: 'pulse-timing-unused',
        level: 'info',
        pointer,
        text: `The head of the ${path.name} takes turns: its pulse timing has no effect.`,
      })
    }
    return found
  }
  const { zeroTimeoutS, timerTickS, smoothingFactor = 1, averagedPeriods = 1 } = pulse ?? {}
  if (zeroTimeoutS === undefined) {
    found.push({
      code: 'no-zero-timeout',
      level: 'caution',
      pointer: `/paths/${index}`,
      text: `The ${path.name} has no zero timeout: without one it keeps showing its last speed after the car stops.`,
      remedy: 'Set the timeout to one pulse period at the lowest speed to be shown.',
    })
  } else {
    const lowest = lowestSpeedMPerS(outputPerM, exact(zeroTimeoutS)).value
    if (lowest > THRESHOLDS.lowestSpeedMPerS) {
      found.push({
        code: 'lowest-speed-high',
        level: 'caution',
        pointer: `${pointer}/zeroTimeout`,
        text: `Below ${speedText(path.unit, lowest)} the ${path.name} shows nothing.`,
        remedy: 'Lengthen the timeout, or use more pulses per turn.',
      })
    }
    if (zeroTimeoutS > THRESHOLDS.staleS) {
      found.push({
        code: 'slow-to-zero',
        level: 'caution',
        pointer: `${pointer}/zeroTimeout`,
        text: `For ${zeroTimeoutS} s after a stop the ${path.name} still shows a speed.`,
        remedy:
          'Let the reading fall while no pulse comes (show at most the speed that one pulse in the time since the last one would give), or use more pulses per turn and a shorter timeout.',
      })
    }
  }
  const topMPerS = vehicle.topSpeedMPerS ?? speedsMPerS.at(-1)!
  if (timerTickS !== undefined) {
    const step = timerStepShare(outputPerM.value, topMPerS, timerTickS, 1)
    if (step > THRESHOLDS.timerStep) {
      found.push({
        code: 'timer-too-coarse',
        level: 'caution',
        pointer: `${pointer}/timerTick`,
        text:
          step > 1
            ? 'At top speed a pulse period is shorter than one timer tick: the timer cannot measure speed there.'
            : `At top speed one timer tick is ${percentText(step)} of the speed.`,
        remedy: 'Use a faster timer, or time several periods together.',
      })
    }
  }
  // Lag of the filter in pulses, then in seconds at town speed: mean delay of an average, ramp lag of a factor.
  const lagPulses = (1 - smoothingFactor) / smoothingFactor + (averagedPeriods - 1) / 2
  const lagS = lagPulses / (outputPerM.value * THRESHOLDS.townMPerS)
  if (lagS > THRESHOLDS.lagS) {
    found.push({
      code: 'filter-slow',
      level: 'caution',
      pointer: `${pointer}/filter`,
      text: `At ${speedText(path.unit, THRESHOLDS.townMPerS)} the filter lags by ${lagS.toFixed(1)} s.`,
      remedy: 'Use a larger filter factor or average fewer readings.',
    })
  }
  return found
}

function tireFindings({ tires }: Vehicle, evaluated: readonly EvaluatedPath[]): Finding[] {
  const found: Finding[] = []
  const relied = new Set(evaluated.flatMap(({ path, basis }) => (basis === 'computed' ? path.axle : [])))
  for (const axle of ['front', 'rear'] as const satisfies readonly Axle[]) {
    if (relied.has(axle) && tires[axle].rollingCircumferenceM.contributions.length === 0) {
      found.push({
        code: 'tire-without-uncertainty',
        level: 'caution',
        pointer: `/tires/${axle}`,
        text: `The rolling circumference of the ${axle} tires carries no uncertainty: every uncertainty and probability here is too optimistic.`,
        remedy:
          'Give its uncertainty (plusMinus): roll the car three times, and let the roll-out calculation find it from the distances.',
      })
    }
    for (const note of tires[axle].notes) {
      found.push({ code: note.code, level: note.level, pointer: `/tires/${axle}`, text: note.text })
    }
  }
  const difference = tires.front.rollingCircumferenceM.value / tires.rear.rollingCircumferenceM.value - 1
  if (Math.abs(difference) > THRESHOLDS.axleDifference) {
    found.push({
      code: 'axles-differ',
      level: 'info',
      pointer: '/tires',
      text: `The rolling circumference of the front tires is ${percentText(Math.abs(difference))} ${difference > 0 ? 'larger' : 'smaller'} than that of the rear tires: make sure that each path names the axle that drives it.`,
    })
  }
  return found
}

function betweenPaths(evaluated: readonly EvaluatedPath[]): Finding[] {
  return evaluated.flatMap((second, index) =>
    evaluated.slice(0, index).flatMap((first): Finding[] => {
      const a = first.line.indicatedPerTrue
      const b = second.line.indicatedPerTrue
      const difference = Math.abs(a.value / b.value - 1)
      if (difference <= THRESHOLDS.dialDifference) return []
      // Uncertainty of the quotient: inputs that both share, such as the tires of one axle, cancel.
      const uncertainty = plusMinus(quotient(a, b))
      if (difference <= uncertainty) return []
      const compared = [difference, uncertainty]
      return [
        {
          code: 'paths-disagree',
          level: 'caution',
          pointer: `/paths/${second.index}`,
          text: `${first.path.name} and ${second.path.name} differ by ${percentText(difference, compared)}, by more than their uncertainty (${percentText(uncertainty, compared)}).`,
        },
      ]
    }),
  )
}

/**
 * All findings about the speed reading and the odometer of a vehicle, most severe first.
 *
 *     fail: breaks the rule or under-reads (p ≥ 0.95); caution: may do so, or may mislead; info: worth knowing
 *
 * p is the probability of the failure.
 *
 * @param vehicle - The vehicle
 * @param evaluated - Its paths, evaluated
 * @returns Findings: failures, then cautions, then information; within a level in the order of the profile
 * @throws {DomainError} `rule-needs-dial-max`
 * @see JCGM 106:2012; StVZO 57; TM 9-1829A (odometer right and speed wrong: spring or magnet); thresholds: common practice, no source
 * @example vehicleFindings(EXAMPLE_VEHICLE, [evaluateVehiclePath(EXAMPLE_VEHICLE, 0)])[0].level // "fail"
 */
export function vehicleFindings(vehicle: Vehicle, evaluated: readonly EvaluatedPath[]): Finding[] {
  return [
    ...evaluated.flatMap((path) => {
      const inputErrors = inputErrorFindings(path)
      const isInputErrorLikely = inputErrors.length > 0
      return [
        ...inputErrors,
        ...ruleFindings(vehicle, path, isInputErrorLikely),
        ...readingFindings(vehicle, path, isInputErrorLikely),
        ...pulseFindings(vehicle, path),
      ]
    }),
    ...tireFindings(vehicle, evaluated),
    ...betweenPaths(evaluated),
  ].sort((a, b) => LEVELS[a.level] - LEVELS[b.level])
}
