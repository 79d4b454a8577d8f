import type { Static } from '@sinclair/typebox'
import { figureOut, figureSi, perDistanceOut, ratioOut, speedOut, valueSi } from '../codec/measures.js'
import { offsetRange, ROUNDING } from '../domain/drive-paths/judgment.js'
import { readingOf } from '../domain/drive-paths/path.js'
import { withPointer } from '../domain/errors.js'
import {
  type Calibration,
  type CalibrationReading,
  calibrate,
  indicatedWhenTrue,
  trueWhenIndicated,
} from '../domain/gauges/calibration.js'
import { type Diagnosis, diagnoseHead, type Symptoms } from '../domain/gauges/head-diagnosis.js'
import {
  type NeverUnderSetting,
  nearSettings,
  type Setting,
  settingForTrue,
  settingNeverUnder,
} from '../domain/gauges/next-constant.js'
import { distanceNotes, RULES_CAUTION } from '../domain/gauges/rule-notes.js'
import { ruleSources, worstSpeedVerdict } from '../domain/gauges/verdicts.js'
import { budget, COVERAGE_FACTOR, type Figure, plusMinus, quotient } from '../domain/measure/figure.js'
import type { Note } from '../domain/measure/notes.js'
import { figureOfRatio, ratioOf } from '../domain/measure/ratio.js'
import type { SourceId } from '../domain/measure/sources.js'
import { halfWidth } from '../domain/measure/spread.js'
import { fromSi } from '../domain/measure/units.js'
import { judgedSpeeds, MAX_OVER_FRACTION } from '../domain/vehicles/aim.js'
import { tableSpeeds } from '../domain/vehicles/evaluate.js'
import type { SpeedUnit } from '../domain/vehicles/vehicle.js'
import { percentText, speedText } from '../domain/vehicles/words.js'
import type { GaugeCalibrationAnswer, GaugeCalibrationRequest } from '../schemas/gauge-calibration.js'
import { speedOf } from './drive-paths.js'
import { rulesOf, verdictOut } from './gauges.js'
import { provenance } from './provenance.js'

type Request = Static<typeof GaugeCalibrationRequest>
type Answer = Static<typeof GaugeCalibrationAnswer>

/** Default maximum whole number of a scaler: one byte. */
const DEFAULT_MAX_TERM = 255

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

/** The calibration of a request, also for stored calibrations and vehicle checks. */
export function calibrationOf(request: Pick<Request, 'readings' | 'model'>): Calibration {
  return withPointer('/readings', () => calibrate(request.model, request.readings.map(readingOfWire)))
}

/** Unit of the dial: the unit of its readings. */
const unitOf = ({ readings }: Pick<Request, 'readings'>): SpeedUnit =>
  'kmh' in readings[0]!.indicated ? 'kmh' : 'mph'

function corrections(request: Request, calibration: Calibration): Answer['correctionAt'] {
  const { lowestTrueMPerS: low, highestTrueMPerS: high } = calibration
  const unit = unitOf(request)
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

/** Error of the readings, and of the line with its uncertainty, in km/h against the true speed. */
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
    curve('error of the line against true speed, lower end of uncertainty', -1),
    curve('error of the line against true speed, upper end of uncertainty', 1),
  ]
}

/** Round true speeds of the dial, up to its highest reading or the end of its range. */
function dialSpeeds(request: Request, { highestTrueMPerS }: Calibration): number[] {
  const { dialMax, topSpeed } = request
  const end = topSpeed ?? dialMax
  const topMPerS = end === undefined ? highestTrueMPerS : Math.max(highestTrueMPerS, valueSi('speed', end))
  return tableSpeeds(unitOf(request), topMPerS)
}

/** The present setting in its domain form. */
function settingOf(current: NonNullable<Request['current']>): { setting: Setting; now: Figure } {
  return 'constant' in current
    ? { setting: 'constant', now: figureSi('perDistance', current.constant, 'current constant') }
    : { setting: 'scaler-ratio', now: figureOfRatio(ratioOf(current.multiply, current.divide)) }
}

function suggestion(
  request: Request,
  current: NonNullable<Request['current']>,
  calibration: Calibration,
  { correctBy }: Diagnosis,
  { odometerPerTrue }: Symptoms,
): { suggested: NonNullable<Answer['suggested']>; neverUnder: NeverUnderSetting | undefined } {
  const { scale, offsetMPerS } = calibration
  const { setting, now } = settingOf(current)
  const byDistance = correctBy === 'distance' && odometerPerTrue !== undefined
  const forTrue = settingForTrue(setting, now, byDistance ? odometerPerTrue : scale)
  const speeds = dialSpeeds(request, calibration)
  const neverUnder = settingNeverUnder(setting, now, { indicatedPerTrue: scale, offsetMPerS }, speeds)
  const suggested: NonNullable<Answer['suggested']> = { basis: correctBy }
  if (setting === 'constant') {
    suggested.constant = figureOut(perDistanceOut, forTrue)
    if (neverUnder !== undefined) suggested.noUnderReadingConstant = perDistanceOut(neverUnder.value)
  } else {
    suggested.ratio = ratioOut(forTrue)
    if (neverUnder !== undefined) suggested.noUnderReadingRatio = neverUnder.value
  }
  if (neverUnder !== undefined) suggested.noUnderReadingErrorPercent = neverUnder.overPercent
  if (!('constant' in current)) {
    // The odometer has no offset.
    const offset = offsetRange(byDistance ? 0 : offsetMPerS.value, judgedSpeeds(speeds))
    suggested.settings = nearSettings(forTrue, current.maxTerm ?? DEFAULT_MAX_TERM, offset).map(
      ({ numerator, denominator, errorFraction }) => ({
        multiply: numerator,
        divide: denominator,
        errorPercent: errorFraction * 100,
      }),
    )
  }
  return { suggested, neverUnder }
}

/** Notes on errors that remain with the setting that rules out under-reading. */
function neverUnderNotes(
  neverUnder: NeverUnderSetting | undefined,
  calibration: Calibration,
  unit: SpeedUnit,
): Note[] {
  if (neverUnder === undefined) {
    return [
      {
        code: 'under-reading-not-excluded',
        level: 'caution',
        text: 'The uncertainty of the scale is too large for any setting to rule out under-reading. Take more readings, over a wider range of speeds.',
      },
    ]
  }
  const over = neverUnder.overPercent / 100
  if (over <= MAX_OVER_FRACTION + ROUNDING) return []
  const { offsetMPerS } = calibration
  const offsetShows = Math.abs(offsetMPerS.value) > plusMinus(offsetMPerS)
  const reads = `With the setting that rules out under-reading, the dial over-reads by up to ${percentText(over, [MAX_OVER_FRACTION])}`
  return [
    offsetShows
      ? {
          code: 'offset-beyond-setting',
          level: 'caution',
          text: `${reads}: the effect of its offset of ${speedText(unit, offsetMPerS.value, [0])} differs at each speed, and no constant or ratio corrects it. Have the zero set first, and calibrate again.`,
        }
      : {
          code: 'guard-band-wide',
          level: 'caution',
          text: `${reads}: the uncertainty of the readings requires such a wide guard band. Take more readings, at low speeds too.`,
        },
  ]
}

function symptomsOf(request: Request, calibration: Calibration): Symptoms {
  const { scale, offsetMPerS, lowestTrueMPerS, highestTrueMPerS } = calibration
  const symptoms = {
    scale,
    offsetMPerS,
    lowestMPerS: lowestTrueMPerS,
    highestMPerS: highestTrueMPerS,
    input: request.input ?? 'turns',
    on: request.on ?? 'road',
    unit: unitOf(request),
  }
  if (request.distanceCheck === undefined) return symptoms
  const { indicated, true: known } = request.distanceCheck
  return Object.assign(symptoms, {
    odometerPerTrue: quotient(
      figureSi('distance', indicated, 'distance check: recorded'),
      figureSi('distance', known, 'distance check: true'),
    ),
  })
}

/** Notes on the choice of the suggested number and on its side effects. */
function settingNotes(request: Request, { fault, correctBy, isHeadOut }: Diagnosis): Note[] {
  if (isHeadOut && correctBy === 'distance') {
    return [
      {
        code: 'set-by-distance',
        level: 'caution',
        text: 'The head itself is wrong, so the suggested number corrects the odometer. Setting it by the speed would hide the fault of the head and make the odometer wrong. The never-under setting still goes by the speed, for driving until the head is repaired.',
      },
    ]
  }
  if (request.input === 'pulses' || correctBy === 'distance') return []
  if (request.on === 'bench') {
    if (!isHeadOut) return []
    return [
      {
        code: 'set-on-bench',
        level: 'caution',
        text: 'On the bench the error is in the head, not in a ratio: the suggested number corrects its speed and shifts its odometer by the same amount. Have the head repaired, or check its odometer on the bench first.',
      },
    ]
  }
  if (fault !== 'not-distinguishable') return []
  return [
    {
      code: 'fault-not-distinguishable',
      level: 'caution',
      text: 'The suggested number corrects the speed; if the fault is in the head, it makes the odometer wrong. Check the odometer over a known distance first.',
    },
  ]
}

function suggestInto(
  out: Answer,
  request: Request,
  calibration: Calibration,
  diagnosis: Diagnosis,
  symptoms: Symptoms,
): void {
  const { current } = request
  if (current === undefined) return
  const { suggested, neverUnder } = withPointer('/current', () =>
    suggestion(request, current, calibration, diagnosis, symptoms),
  )
  out.suggested = suggested
  out.notes.push(
    ...settingNotes(request, diagnosis),
    ...neverUnderNotes(neverUnder, calibration, unitOf(request)),
  )
}

const number = new Intl.NumberFormat('en-US', { maximumSignificantDigits: 3 })

function outlierNotes({ outliers, robust, scale }: Calibration): Note[] {
  if (robust === undefined) return []
  const which = outliers.map((one) => one + 1).join(', ')
  return [
    {
      code: 'outlying-readings',
      level: 'caution',
      text: `Reading ${which} is an outlier. It is included in the fit; a robust fit gives a scale of ${number.format((robust.slope - 1) * 100)} % instead of ${number.format((scale.value - 1) * 100)} %. Check the reading, and leave it out only for a known reason.`,
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
  if (line.weighted) sources.push('line-fit-both-uncertain')
  if (robust !== undefined) sources.push('robust-line-fit')
  const highest = calibration.highestTrueMPerS
  const out: Answer = {
    fit: request.model,
    scalePercent: (scale.value - 1) * 100,
    scalePercentPlusMinus: plusMinus(scale) * 100,
    offset: figureOut(speedOut, offsetMPerS),
    correlation: calibration.correlation,
    readingScatter: speedOut(COVERAGE_FACTOR * line.readingSd),
    scatterExceedsUncertainty: line.scatterExceedsUncertainty,
    residuals: line.residuals.map((residual, reading) => ({
      reading,
      residual: speedOut(residual),
      standardized: line.standardized[reading]!,
      outlier: outliers.includes(reading),
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
      text: 'Some speeds lie below the lowest or above the highest reading: there the line is extrapolated, and a nonlinear scale would go unnoticed.',
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
          text: `${rule.id} sets no limit at any speed of this vehicle.`,
        })
      continue
    }
    out.verdicts.push(verdictOut(verdict))
    if (verdict.atMPerS < low - 1e-9 || verdict.atMPerS > high + 1e-9) {
      out.notes.push({
        code: 'verdict-beyond-readings',
        level: 'caution',
        text: `${rule.id} is judged at a speed outside the readings, on the extrapolated line: take readings there before relying on it.`,
      })
    }
  }
  out.notes.push(...distanceNotes(rules), RULES_CAUTION)
}
