import type { Static } from '@sinclair/typebox'
import { readingOf } from '../domain/drive-paths/path.js'
import { at } from '../domain/errors.js'
import {
  type Calibration,
  type CalibrationReading,
  calibrate,
  indicatedWhenTrue,
  trueWhenIndicated,
} from '../domain/gauges/calibration.js'
import { type Diagnosis, diagnoseHead, type Symptoms } from '../domain/gauges/head-diagnosis.js'
import { nextSetting } from '../domain/gauges/next-constant.js'
import { timedCourse } from '../domain/gauges/timed-course.js'
import { ruleSources, worstSpeedVerdict } from '../domain/gauges/verdicts.js'
import { nearestRatios, ratioOfComputed } from '../domain/measure/approximation.js'
import {
  budget,
  COVERAGE_FACTOR,
  type Figure,
  plusMinus,
  quotient,
  standardUncertainty,
} from '../domain/measure/figure.js'
import type { Note } from '../domain/measure/notes.js'
import { figureOfRatio, ratioOf } from '../domain/measure/ratio.js'
import type { SourceId } from '../domain/measure/sources.js'
import { halfWidth } from '../domain/measure/spread.js'
import { fromSi } from '../domain/measure/units.js'
import { tableSpeeds } from '../domain/vehicles/evaluate.js'
import type {
  GaugeCalibrationAnswer,
  GaugeCalibrationRequest,
  TimedCourseAnswer,
  TimedCourseRequest,
} from '../schemas/gauge-calibration.js'
import type { MeasureIn } from '../schemas/measures.js'
import { RULES_CAUTION, speedOf } from './drive-paths.js'
import { distanceNotes, rulesOf, verdictOut } from './gauges.js'
import { figureOut, figureSi, perDistanceOut, ratioOut, speedOut, timeOut, valueSi } from './measures.js'
import { provenance } from './provenance.js'

type Request = Static<typeof GaugeCalibrationRequest>
type Answer = Static<typeof GaugeCalibrationAnswer>

/** Largest whole number of a scaler whose range is not given: one byte. */
const USUAL_MAX_TERM = 255

/** Most settings of a scaler that are shown. */
const MOST_SETTINGS = 12

function readingOfWire(wire: Request['readings'][number]): CalibrationReading {
  const indicated = speedOf(wire.indicated)
  const trueSpeed = speedOf(wire.true)
  return {
    indicatedMPerS: indicated.trueMPerS,
    uIndicatedMPerS: indicated.u,
    trueMPerS: trueSpeed.trueMPerS,
    uTrueMPerS: trueSpeed.u,
  }
}

/** The calibration of a request: what a saved calibration keeps, and what a vehicle check takes from it. */
export function calibrationOf(request: Pick<Request, 'readings' | 'model'>): Calibration {
  return at('/readings', () => calibrate(request.model, request.readings.map(readingOfWire)))
}

function corrections(request: Request, calibration: Calibration): Answer['correctionAt'] {
  const { lowestTrueMPerS: low, highestTrueMPerS: high } = calibration
  const unit = 'kmh' in request.readings[0]!.indicated ? 'kmh' : 'mph'
  const speeds: ReadonlyArray<{ trueMPerS: number; u?: number }> =
    request.speeds === undefined
      ? tableSpeeds(unit, high).map((trueMPerS) => ({ trueMPerS }))
      : request.speeds.map((wire) =>
          wire.plusMinus === undefined ? { trueMPerS: valueSi('speed', wire) } : speedOf(wire),
        )
  return speeds.map(({ trueMPerS: speed, u }) => ({
    speed: speedOut(speed),
    trueWhenIndicated: figureOut(speedOut, trueWhenIndicated(calibration, speed, u)),
    indicatedWhenTrue: figureOut(speedOut, indicatedWhenTrue(calibration, speed, u)),
    withinReadings: speed >= low && speed <= high,
  }))
}

/** Error of the readings, and of the line with its doubt, in km/h against the true speed. */
function series(calibration: Calibration, readings: readonly CalibrationReading[]): Answer['series'] {
  const kmh = (value: number) => fromSi('speed', 'kmh', value)
  const { lowestTrueMPerS: low, highestTrueMPerS: high, scale, offsetMPerS } = calibration
  const line = readingOf({ indicatedPerTrue: scale, offsetMPerS })
  const grid = Array.from({ length: 11 }, (_, i) => low + ((high - low) * i) / 10)
  const curve = (name: string, sign: number) => ({
    name,
    unit: 'km/h',
    points: grid.map((v) => {
      const { indicatedMPerS, spread } = line(v)
      return [kmh(v), kmh(indicatedMPerS - v + sign * halfWidth(spread))]
    }),
  })
  return [
    {
      name: 'error of the readings against true speed',
      unit: 'km/h',
      points: readings
        .map(({ trueMPerS, indicatedMPerS }) => [kmh(trueMPerS), kmh(indicatedMPerS - trueMPerS)])
        .sort((a, b) => a[0]! - b[0]!),
    },
    curve('error of the line against true speed', 0),
    curve('error of the line against true speed, least', -1),
    curve('error of the line against true speed, most', 1),
  ]
}

function suggestion(
  current: NonNullable<Request['current']>,
  scale: Figure,
  basis: 'speed' | 'distance',
): NonNullable<Answer['suggested']> {
  if ('constant' in current) {
    const next = nextSetting('constant', figureSi('perDistance', current.constant, 'current constant'), scale)
    return {
      basis,
      constant: figureOut(perDistanceOut, next.forTrue),
      neverUnderConstant: perDistanceOut(next.neverUnder),
      neverUnderOverPercent: next.neverUnderOverPercent,
    }
  }
  const next = nextSetting('scaler-ratio', figureOfRatio(ratioOf(current.multiply, current.divide)), scale)
  const wanted = ratioOfComputed(next.forTrue.value)
  return {
    basis,
    ratio: ratioOut(next.forTrue),
    neverUnderRatio: next.neverUnder,
    neverUnderOverPercent: next.neverUnderOverPercent,
    settings: nearestRatios(wanted, current.maxTerm ?? USUAL_MAX_TERM)
      .slice(0, MOST_SETTINGS)
      .map(({ numerator, denominator, relativeError }) => ({
        multiply: numerator,
        divide: denominator,
        errorPercent: relativeError * 100,
      })),
  }
}

function symptomsOf(request: Request, { scale, offsetMPerS, highestTrueMPerS }: Calibration): Symptoms {
  const symptoms = { scale, offsetMPerS, highestMPerS: highestTrueMPerS, takes: request.takes ?? 'turns' }
  if (request.distanceCheck === undefined) return symptoms
  const { indicated, true: known } = request.distanceCheck
  return Object.assign(symptoms, {
    recordedPerTrue: quotient(
      figureSi('distance', indicated, 'distance check: recorded'),
      figureSi('distance', known, 'distance check: true'),
    ),
  })
}

function suggestInto(
  out: Answer,
  request: Request,
  { scale }: Calibration,
  { fault }: Diagnosis,
  { recordedPerTrue }: Symptoms,
): void {
  if (request.current === undefined) return
  const headToo = (fault === 'head' || fault === 'ratio-and-head') && recordedPerTrue !== undefined
  out.suggested = at('/current', () =>
    headToo
      ? suggestion(request.current!, recordedPerTrue, 'distance')
      : suggestion(request.current!, scale, 'speed'),
  )
  if (headToo) {
    out.notes.push({
      code: 'set-by-distance',
      level: 'caution',
      text: 'The head itself is wrong: the number suggested puts the distance record right. Setting it by the speed would hide the fault of the head and spoil the record.',
    })
  }
  if (fault === 'not-told-apart' && request.takes !== 'pulses') {
    out.notes.push({
      code: 'fault-not-told-apart',
      level: 'caution',
      text: 'The number suggested puts the speed right; if the fault is in the head, it spoils the distance record. Check the record over a known distance first.',
    })
  }
}

const number = new Intl.NumberFormat('en-US', { maximumSignificantDigits: 3 })

function outlierNotes({ outliers, robust, scale }: Calibration): Note[] {
  if (robust === undefined) return []
  const which = outliers.map((one) => one + 1).join(', ')
  return [
    {
      code: 'outlying-readings',
      level: 'caution',
      text: `Reading ${which} does not lie with the others. It is in the fit; without its pull the scale would be ${number.format((robust.slope - 1) * 100)} % in place of ${number.format((scale.value - 1) * 100)} %. Check it, and leave it out only with a reason.`,
    },
  ]
}

/** The answer of `POST /v1/gauges/calibration`. */
export function gaugeCalibrationOut(request: Request): Answer {
  const calibration = calibrationOf(request)
  const { line, scale, offsetMPerS, outliers, robust } = calibration
  const readings = request.readings.map(readingOfWire)
  const rules = rulesOf(request.rules)
  const symptoms = symptomsOf(request, calibration)
  const diagnosis = diagnoseHead(symptoms)
  const sources: SourceId[] = [
    'definitions',
    'gum',
    'caller-reading',
    'nist-handbook',
    'tm-9-1829a',
    'tm-5-3805-254-14p-2',
    ...ruleSources(rules),
  ]
  if (line.weighted) sources.push('york-2004')
  if (robust !== undefined) sources.push('sen-1968')
  const highest = calibration.highestTrueMPerS
  const out: Answer = {
    fit: request.model,
    scalePercent: (scale.value - 1) * 100,
    scalePercentPlusMinus: plusMinus(scale) * 100,
    offset: figureOut(speedOut, offsetMPerS),
    correlation: calibration.correlation,
    readingScatter: speedOut(COVERAGE_FACTOR * line.readingSd),
    scatterExceedsDoubt: line.scatterExceedsDoubt,
    residuals: line.residuals.map((residual, reading) => ({
      reading,
      residual: speedOut(residual),
      standardized: line.standardized[reading]!,
      outlying: outliers.includes(reading),
    })),
    outliers: [...outliers],
    correctionAt: corrections(request, calibration),
    verdicts: [],
    diagnosis: { fault: diagnosis.fault, findings: diagnosis.findings.map((one) => ({ ...one })) },
    budget: budget(trueWhenIndicated(calibration, indicatedWhenTrue(calibration, highest).value)),
    series: series(calibration, readings),
    ...provenance({ sources, notes: [...calibration.notes, ...outlierNotes(calibration)] }),
  }
  if (diagnosis.headScale !== undefined) {
    out.diagnosis.headScalePercent = (diagnosis.headScale.value - 1) * 100
    out.diagnosis.headScalePercentPlusMinus = plusMinus(diagnosis.headScale) * 100
  }
  if (robust !== undefined) {
    out.robust = { scalePercent: (robust.slope - 1) * 100, offset: speedOut(robust.intercept) }
    if (robust.slopeRange !== undefined) {
      out.robust.scaleLowPercent = (robust.slopeRange[0] - 1) * 100
      out.robust.scaleHighPercent = (robust.slopeRange[1] - 1) * 100
    }
  }
  judge(out, request, calibration)
  suggestInto(out, request, calibration, diagnosis, symptoms)
  if (out.correctionAt.some(({ withinReadings }) => !withinReadings)) {
    out.notes.push({
      code: 'beyond-readings',
      level: 'info',
      text: 'Some speeds lie below the lowest or above the highest reading: there the line is only prolonged, and a curved scale would not show.',
    })
  }
  return out
}

function judge(out: Answer, request: Request, calibration: Calibration): void {
  const rules = rulesOf(request.rules)
  if (rules.length === 0) return
  const { scale, offsetMPerS, lowestTrueMPerS: low, highestTrueMPerS: high } = calibration
  const line = { indicatedPerTrue: scale, offsetMPerS }
  const { dialMax, topSpeed } = request
  const options = {
    dialMaxMPerS: dialMax === undefined ? undefined : valueSi('speed', dialMax),
    topSpeedMPerS: topSpeed === undefined ? undefined : valueSi('speed', topSpeed),
  }
  for (const rule of rules) {
    const verdict = worstSpeedVerdict(rule, line, options)
    if (verdict === undefined) {
      if (rule.rule.speed !== undefined)
        out.notes.push({
          code: 'rule-not-judged',
          level: 'info',
          text: `${rule.id} holds at no speed of this vehicle.`,
        })
      continue
    }
    out.verdicts.push(verdictOut(verdict))
    if (verdict.atMPerS < low - 1e-9 || verdict.atMPerS > high + 1e-9) {
      out.notes.push({
        code: 'verdict-beyond-readings',
        level: 'caution',
        text: `${rule.id} is judged at a speed outside those read, on the prolonged line: take readings there before relying on it.`,
      })
    }
  }
  out.notes.push(...distanceNotes(rules), RULES_CAUTION)
}

const inKmh = (figure: Figure) => ({
  kmh: fromSi('speed', 'kmh', figure.value),
  plusMinus: fromSi('speed', 'kmh', plusMinus(figure)),
})

const secondsOf = (wire: MeasureIn<'time'>) => {
  const figure = figureSi('time', wire, 'time')
  return { timeS: figure.value, uTimeS: standardUncertainty(figure) }
}

/** The answer of `POST /v1/gauges/timed-course`. */
export function timedCourseOut(request: Static<typeof TimedCourseRequest>): Static<typeof TimedCourseAnswer> {
  const course = at('/times', () =>
    timedCourse(figureSi('distance', request.distance, 'length of the course'), request.times.map(secondsOf)),
  )
  const indicated = figureSi('speed', request.indicated, 'indicated speed')
  const { trueMPerS } = course
  const error = indicated.value - trueMPerS.value
  const doubt = COVERAGE_FACTOR * Math.hypot(standardUncertainty(indicated), standardUncertainty(trueMPerS))
  const sources: SourceId[] = ['definitions', 'gum', 'caller-reading']
  if (course.assumedHandTiming) sources.push('hand-timing')
  return {
    true: figureOut(speedOut, trueMPerS),
    indicated: figureOut(speedOut, indicated),
    error: speedOut(error, doubt),
    errorPercent: (100 * error) / trueMPerS.value,
    time: figureOut(timeOut, course.timeS),
    outliers: [...course.outliers],
    budget: budget(trueMPerS),
    reading: { indicated: inKmh(indicated), true: inKmh(trueMPerS) },
    ...provenance({
      sources,
      notes: [
        ...course.notes,
        {
          code: 'timed-course-safety',
          level: 'caution',
          text: 'Drive a timed course only where it is allowed and safe, with a second person to time and read the dial; run it both ways.',
        },
      ],
    }),
  }
}
