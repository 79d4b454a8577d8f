import { readingOf } from '../drive-paths/path.js'
import { budget, exact, type Figure, plusMinus, quotient, scaled, sum } from '../measure/figure.js'
import { fromSi, toSi } from '../measure/units.js'
import { lowestSpeedMPerS, timerStepShare } from '../pulses/timing.js'
import { factorOff, SLIP_FACTOR, underReading } from './aim.js'
import { likelySlips, type Slip, slipsAgainstMeasured } from './slips.js'
import type { Axle, EvaluatedPath, Finding, FindingLevel, Vehicle } from './vehicle.js'
import { percentText, probabilityText, speedText } from './words.js'

/** Thresholds of findings; common practice, no source, unless said. */
const THRESHOLDS = {
  /** Most error of an odometer in several rules (StVZO 57(3); ADR 18; AETR in use). */
  recordFraction: 0.04,
  /** A dial that shows nothing below this hides walking pace in traffic. [m/s] */
  lowestSpeedMPerS: toSi('speed', 'kmh', 5),
  /** Longest time that a stopped car may still show a speed. [s] */
  staleS: 2,
  /** Step of the timer at top speed, as a fraction. */
  timerStep: 0.005,
  /** Lag of the filter at town speed. [s] */
  lagS: 1,
  townMPerS: toSi('speed', 'kmh', 30),
  /** Difference of the circumferences of the axles. */
  axleDifference: 0.01,
  /** Error of the head alone that points at spring or magnet while the distance is right. */
  headScale: 0.03,
  headDistance: 0.02,
  /** Difference between two dials of one car. */
  dialDifference: 0.02,
} as const

const LEVELS: Readonly<Record<FindingLevel, number>> = { fail: 0, caution: 1, info: 2 }

const UNTIL_RIGHT = 'Drive by a second means of knowing the speed until it is put right.'

const largestUncertainty = (figure: Figure) => budget(figure)[0]?.input

function ruleFindings(vehicle: Vehicle, evaluated: EvaluatedPath): Finding[] {
  const { path, index, line } = evaluated
  const { speed: verdict, distance } = evaluated.verdict ?? {}
  const pointer = `/paths/${index}`
  const { id, rule } = vehicle.rule
  const found: Finding[] = []
  if (verdict === undefined) {
    if (rule.speed !== undefined) {
      found.push({
        code: 'rule-not-judged',
        level: 'info',
        pointer: '/rule',
        text: `${path.name}: ${id} holds at none of the speeds of this vehicle.`,
      })
    }
  } else {
    const shown = readingOf(line)(verdict.atMPerS).indicatedMPerS
    const { lowerMPerS, upperMPerS } = verdict.limits
    const { atMPerS } = verdict
    const compared = [atMPerS, shown, lowerMPerS ?? atMPerS, upperMPerS ?? atMPerS]
    const speed = (speedMPerS: number) => speedText(path.unit, speedMPerS, compared)
    const bounds = [
      lowerMPerS === undefined ? '' : `at least ${speed(lowerMPerS)}`,
      upperMPerS === undefined ? '' : `at most ${speed(upperMPerS)}`,
    ].filter((text) => text !== '')
    const case_ = `At a true ${speed(atMPerS)} the ${path.name} shows ${speed(shown)}; ${id} allows ${bounds.join(' and ')}.`
    if (verdict.result === 'conforms') {
      found.push({
        code: 'rule-met',
        level: 'info',
        pointer,
        text: `${case_} Conforms with probability ${probabilityText(verdict.probability, 3)} at its worst speed.`,
      })
    } else if (verdict.result === 'does-not-conform') {
      found.push({
        code: 'rule-not-met',
        level: 'fail',
        pointer,
        text: case_,
        remedy: UNTIL_RIGHT,
      })
    } else {
      // Of the reading that decides: slope and offset weigh otherwise at each speed.
      const uncertainty = largestUncertainty(
        sum(scaled(line.indicatedPerTrue, verdict.atMPerS), line.offsetMPerS),
      )
      found.push({
        code: 'rule-not-proven',
        level: 'caution',
        pointer,
        text: `${case_} Given the uncertainty of the figures it conforms with probability ${probabilityText(verdict.probability, 2)}: not proven.`,
        remedy:
          uncertainty === undefined
            ? 'Calibrate the dial on the road.'
            : `Most of the uncertainty is in "${uncertainty}": measure that better, for instance by a roll-out, or calibrate on the road.`,
      })
    }
  }
  const { odometerPerTrue } = line
  if (distance !== undefined && distance.result !== 'conforms') {
    const certain = distance.result === 'does-not-conform'
    const error = odometerPerTrue.value - 1
    const compared = [error, distance.limitFraction, -distance.limitFraction]
    found.push({
      code: certain ? 'distance-rule-not-met' : 'distance-rule-not-proven',
      level: certain ? 'fail' : 'caution',
      pointer,
      text: `${path.name}: the odometer is off by ${percentText(error, compared)}, ± ${percentText(plusMinus(odometerPerTrue))}; ${id} allows ${percentText(distance.limitFraction, compared)} either way.`,
      remedy: certain
        ? 'The counter is put right by what turns it, gears, adapter or scaler, or by the constant of a head that takes pulses; spring and magnet do not reach it.'
        : 'Measure over a known distance: count the turns or pulses, or compare the record with it.',
    })
  }
  return found
}

/** What the parts promise of that which was measured, as `computed` takes it. */
function promiseText({ path, basis, computed, shafts }: EvaluatedPath): string {
  if (basis === 'measured-reading')
    return `indicatedPerTrue ${computed.indicatedPerTrue.value.toPrecision(6)}`
  const key = path.unit === 'mph' ? 'perMile' : 'perKm'
  return `output { ${key}: ${fromSi('perDistance', key, shafts.at(-1)!.perM.value).toPrecision(6)} }`
}

/** Where to look in a profile whose reading is far from true; where no slip explains it, at the usual ones. */
function whereToLook(evaluated: EvaluatedPath, slips: readonly Slip[]): string[] {
  const { path, line, basis } = evaluated
  const texts = slips.map(({ text }) => text)
  const missesFinalDrive = path.stages.every(({ kind }) => kind !== 'final-drive')
  if (basis === 'computed' && line.indicatedPerTrue.value < 1 && missesFinalDrive)
    texts.push('a final drive that is missing among the stages')
  if (texts.length > 0) return texts
  return basis === 'measured-reading'
    ? ['the measured reading']
    : ['swapped teeth', 'the unit of the constant', 'a stage that is missing or stands there twice']
}

function slipFindings(evaluated: EvaluatedPath): Finding[] {
  const { path, index, line } = evaluated
  const slope = line.indicatedPerTrue.value
  const slips = likelySlips(evaluated)
  const shows = `The ${path.name} would show ${slope.toPrecision(3)} times the true speed`
  if (factorOff(slope) <= SLIP_FACTOR) {
    return slips.map(({ pointer, text, look, indicatedPerTrue }) => ({
      code: 'slip-would-explain',
      level: 'caution',
      pointer,
      text: `${shows}. A slip in the profile would explain it: ${text}. Put right, it would show ${indicatedPerTrue.toPrecision(3)} times.`,
      remedy: `Before any part is changed, ${look}.`,
    }))
  }
  return [
    {
      code: 'reading-far-off',
      level: 'caution',
      pointer: `/paths/${index}`,
      text: `${shows}, more than parts that belong together are ever off: most likely something in the profile is a slip.`,
      remedy: `Before any part is changed, look for ${whereToLook(evaluated, slips).join(', or ')}.`,
    },
  ]
}

function readingFindings(vehicle: Vehicle, evaluated: EvaluatedPath): Finding[] {
  const { path, index, line, computed, basis, outputPerM, outdated, shafts } = evaluated
  const pointer = `/paths/${index}`
  const found: Finding[] = []
  const reading = readingOf(line)
  const under = underReading(reading, evaluated.speedsMPerS)
  const shown = reading(under.atMPerS).indicatedMPerS
  const compared = [shown, under.atMPerS]
  if (under.probability >= 0.95) {
    found.push({
      code: 'under-reads',
      level: 'fail',
      pointer,
      text: `The ${path.name} shows less than the true speed: ${speedText(path.unit, shown, compared)} at a true ${speedText(path.unit, under.atMPerS, compared)}.`,
      remedy: UNTIL_RIGHT,
    })
  } else if (under.probability > 0.05) {
    found.push({
      code: 'may-under-read',
      level: 'caution',
      pointer,
      text: `The ${path.name} may show less than the true speed: probability ${probabilityText(under.probability, 2)} at a true ${speedText(path.unit, under.atMPerS)}.`,
      remedy: 'Calibrate on the road, or measure the rolling circumference; then aim a little high.',
    })
  }
  const record = line.odometerPerTrue.value - 1
  if (Math.abs(record) > THRESHOLDS.recordFraction) {
    found.push({
      code: 'distance-record-off',
      level: 'caution',
      pointer,
      text: `The odometer runs ${percentText(Math.abs(record))} ${record > 0 ? 'fast' : 'slow'}.`,
      remedy:
        'Keep a note of the error and of the reading at which it began with the vehicle; the record itself may be changed only as the law allows.',
    })
  }
  const { dialMaxMPerS } = path.head
  const { topSpeedMPerS } = vehicle
  if (
    dialMaxMPerS !== undefined &&
    topSpeedMPerS !== undefined &&
    reading(topSpeedMPerS).indicatedMPerS > dialMaxMPerS
  ) {
    found.push({
      code: 'dial-ends-below-top-speed',
      level: 'caution',
      pointer: `${pointer}/head/dialMax`,
      text: `At top speed the ${path.name} would show ${speedText(path.unit, reading(topSpeedMPerS).indicatedMPerS)}, beyond its last mark.`,
    })
  }
  const scale = path.head.scale.value - 1
  if (Math.abs(scale) > THRESHOLDS.headScale && Math.abs(record) < THRESHOLDS.headDistance) {
    found.push({
      code: 'head-at-fault',
      level: 'caution',
      pointer: `${pointer}/head`,
      text: `Distance is right within ${percentText(Math.abs(record))} and speed is off by ${percentText(Math.abs(scale))}: the fault is in the head (spring or magnet), not in the ratio.`,
      remedy: 'Have the head recalibrated; other gears would spoil the odometer.',
    })
  }
  if (basis === 'computed' && path.stages.every(({ kind }) => kind !== 'final-drive')) {
    found.push({
      code: 'driven-by-one-wheel',
      level: 'info',
      pointer,
      text: `The ${path.name} follows one wheel: in a bend it reads high or low by the track over twice the radius, some 6 % on a 10 m turn.`,
    })
  }
  if (outdated !== undefined) {
    found.push({
      code: 'measured-outdated',
      level: 'caution',
      pointer: `${pointer}/measured`,
      text: `What was measured is left aside: tire, stages or head have changed since, and promise ${percentText(Math.abs(outdated - 1))} ${outdated > 1 ? 'more' : 'less'} than they did then.`,
      remedy:
        'Measure again. Where the car is as it was and only the profile was put right, remove computed from measured.',
    })
  }
  if (basis !== 'computed') {
    if (path.measured?.computed === undefined) {
      found.push({
        code: 'measured-without-promise',
        level: 'info',
        pointer: `${pointer}/measured`,
        text: 'The profile does not say what was computed from tire, stages and head when this was measured: a later change of one will go unnoticed.',
        remedy: `Give measured/computed: ${promiseText(evaluated)} if they are now as they were then. To apply a calibration that is kept with the vehicle sets it.`,
      })
    }
    const measured = basis === 'measured-output' ? outputPerM : line.indicatedPerTrue
    const promised = basis === 'measured-output' ? shafts.at(-1)!.perM : computed.indicatedPerTrue
    const difference = measured.value / promised.value - 1
    const uncertainty = Math.hypot(plusMinus(measured) / measured.value, plusMinus(promised) / promised.value)
    if (Math.abs(difference) > uncertainty) {
      const slips = slipsAgainstMeasured(evaluated, quotient(promised, measured))
      const compared = [Math.abs(difference), uncertainty]
      found.push({
        code: 'measured-disagrees',
        level: 'caution',
        pointer: `${pointer}/measured`,
        text: `What was measured lies ${percentText(Math.abs(difference), compared)} from what tire, stages and head promise, more than their uncertainty (${percentText(uncertainty, compared)}): a ratio, a tooth count or the measurement is wrong.`,
        ...(slips.length === 0
          ? {}
          : { remedy: `Look for ${slips.map(({ text }) => text).join(', or ')}: that would explain it.` }),
      })
    }
  }
  return found
}

function pulseFindings(vehicle: Vehicle, { path, index, outputPerM, speedsMPerS }: EvaluatedPath): Finding[] {
  const pointer = `/paths/${index}/pulse`
  const found: Finding[] = []
  const { pulse } = path
  if (path.head.takes === 'turns') {
    if (pulse !== undefined) {
      found.push({
        code: 'pulse-timing-unused',
        level: 'info',
        pointer,
        text: `The ${path.name} carries turns: its pulse timing has no effect.`,
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
      text: `No zero timeout is known for the ${path.name}: without one it holds its last speed when the car stops.`,
      remedy: 'Set a timeout of one pulse period at the lowest speed that is to be shown.',
    })
  } else {
    const lowest = lowestSpeedMPerS(outputPerM, exact(zeroTimeoutS)).value
    if (lowest > THRESHOLDS.lowestSpeedMPerS) {
      found.push({
        code: 'lowest-speed-high',
        level: 'caution',
        pointer: `${pointer}/zeroTimeout`,
        text: `Below ${speedText(path.unit, lowest)} the ${path.name} shows nothing.`,
        remedy: 'Lengthen the timeout, or take more pulses per turn.',
      })
    }
    if (zeroTimeoutS > THRESHOLDS.staleS) {
      found.push({
        code: 'slow-to-zero',
        level: 'caution',
        pointer: `${pointer}/zeroTimeout`,
        text: `For ${zeroTimeoutS} s after a stop the ${path.name} still shows a speed.`,
        remedy:
          'Show the lower of the last speed and one pulse per elapsed time, or take more pulses per turn and a shorter timeout.',
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
            ? 'At top speed the timer steps less than once in a pulse period: it tells no speed there.'
            : `At top speed one timer step is ${percentText(step)} of the speed.`,
        remedy: 'Take a finer timer, or time several periods as one.',
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
      text: `At ${speedText(path.unit, THRESHOLDS.townMPerS)} the filter follows ${lagS.toFixed(1)} s behind.`,
      remedy: 'Take a larger factor or a shorter average.',
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
        text: `The ${axle} tires are taken as exact, and every uncertainty and probability here is too good by what is unsure about them.`,
        remedy: 'Give plusMinus: a roll-out tells it.',
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
      text: `The front tires roll ${percentText(Math.abs(difference))} ${difference > 0 ? 'farther' : 'less far'} per turn than the rear ones: every path depends on which axle drives it.`,
    })
  }
  return found
}

function betweenPaths(evaluated: readonly EvaluatedPath[]): Finding[] {
  return evaluated.flatMap((second, index) =>
    evaluated.slice(0, index).flatMap((first): Finding[] => {
      const a = first.line.indicatedPerTrue
      const b = second.line.indicatedPerTrue
      // Of the quotient: what both share, the tires of one axle, does not make them differ.
      const between = quotient(a, b)
      const difference = Math.abs(between.value - 1)
      const uncertainty = plusMinus(between)
      if (difference <= Math.max(uncertainty, THRESHOLDS.dialDifference)) return []
      const compared = [difference, uncertainty]
      return [
        {
          code: 'paths-disagree',
          level: 'caution',
          pointer: `/paths/${second.index}`,
          text: `${first.path.name} and ${second.path.name} differ by ${percentText(difference, compared)}, more than their uncertainty (${percentText(uncertainty, compared)}).`,
        },
      ]
    }),
  )
}

/**
 * Everything about a vehicle that matters to its speed reading, most severe first.
 *
 *     fail: breaks the rule or under-reads (p ≥ 0.95); caution: may, or may mislead; info: worth knowing
 *
 * p is the probability of the failure.
 *
 * @param vehicle - The vehicle
 * @param evaluated - Its paths, evaluated
 * @returns Findings: failures, cautions, information; within a level in the order of the profile
 * @throws {DomainError} `rule-needs-dial-max`
 * @see JCGM 106:2012; StVZO 57; TM 9-1829A (right in distance and wrong in speed: spring or magnet); thresholds: common practice, no source
 * @example vehicleFindings(EXAMPLE_VEHICLE, [evaluateVehiclePath(EXAMPLE_VEHICLE, 0)])[0].level // "fail"
 */
export function vehicleFindings(vehicle: Vehicle, evaluated: readonly EvaluatedPath[]): Finding[] {
  return [
    ...evaluated.flatMap((path) => [
      ...slipFindings(path),
      ...ruleFindings(vehicle, path),
      ...readingFindings(vehicle, path),
      ...pulseFindings(vehicle, path),
    ]),
    ...tireFindings(vehicle, evaluated),
    ...betweenPaths(evaluated),
  ].sort((a, b) => LEVELS[a.level] - LEVELS[b.level])
}
