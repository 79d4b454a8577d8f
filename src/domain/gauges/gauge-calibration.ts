import { readingOf } from '../drive-paths/path.js'
import { withPointer } from '../errors.js'
import { type BudgetLine, budget } from '../measure/budget.js'
import { COVERAGE_FACTOR, type Figure, type Reading, statesUncertainty } from '../measure/figure.js'
import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import { quotient } from '../measure/propagation.js'
import type { SourceId } from '../measure/sources.js'
import { halfWidth } from '../measure/spread.js'
import { plusMinus, standardUncertainty } from '../measure/uncertainty.js'
import { fromSi } from '../measure/units.js'
import type { Mutable } from '../mutable.js'
import { tableSpeeds } from '../vehicles/evaluate.js'
import type { SpeedUnit } from '../vehicles/vehicle.js'
import {
  type Calibration,
  type CalibrationReading,
  calibrate,
  type FitKind,
  indicatedWhenTrue,
  trueWhenIndicated,
} from './calibration.js'
import { calibrationVerdicts } from './calibration-verdicts.js'
import { type GivenRule, givenRules } from './given-rules.js'
import { type Diagnosis, diagnoseHead, type HeadFinding, type Symptoms } from './head-diagnosis.js'
import type { RuleVerdict } from './rule-verdicts.js'
import { type CurrentSetting, type SuggestedSetting, suggestedSetting } from './suggested-setting.js'
import { type NamedRule, ruleSources } from './verdicts.js'

export interface GaugeCalibrationRequest {
  readonly readings: readonly CalibrationReading[]
  readonly model: FitKind
  readonly rules?: readonly GivenRule[]
  /** Speeds of the corrections; left out: round speeds up to the highest reading. Where none states an uncertainty: the scatter of the readings counts. */
  readonly speedsMPerS?: readonly Reading[]
  /** Last mark of the dial. */
  readonly dialMaxMPerS?: Figure
  /** Of the vehicle. */
  readonly topSpeedMPerS?: Figure
  /** What drives the head; left out: turns. */
  readonly input?: 'turns' | 'pulses'
  /** Left out: road. */
  readonly on?: 'bench' | 'road'
  /** Left out: no setting is suggested. */
  readonly current?: CurrentSetting
  /** Distance by the odometer over a known one. */
  readonly distanceCheck?: { readonly indicatedM: Figure; readonly trueM: Figure }
}

/** Corrections at one speed. */
export interface CalibrationCorrection {
  readonly speedMPerS: number
  readonly trueWhenIndicatedMPerS: Figure
  readonly indicatedWhenTrueMPerS: Figure
  readonly withinReadings: boolean
}

export interface CalibrationResidual {
  readonly reading: number
  readonly residualMPerS: number
  readonly standardized: number
  readonly outlier: boolean
}

/** A line of a plot. */
export interface CalibrationSeries {
  readonly name: string
  readonly unit: string
  readonly points: ReadonlyArray<readonly number[]>
}

/** The line that outliers do not affect. */
export interface RobustFit {
  readonly scalePercent: number
  readonly offsetMPerS: number
  /** Ends of the 95 % range. */
  readonly scaleLowPercent?: number
  readonly scaleHighPercent?: number
}

export interface GaugeFault {
  readonly fault: Diagnosis['fault']
  readonly headScalePercent?: number
  readonly headScalePercentPlusMinus?: number
  readonly findings: readonly HeadFinding[]
}

export interface GaugeCalibration {
  readonly fit: FitKind
  readonly scalePercent: number
  readonly scalePercentPlusMinus: number
  readonly offsetMPerS: Figure
  /** Of scale and offset. */
  readonly correlation: number
  /** Of one reading about the line, 95 %. */
  readonly readingScatterMPerS: number
  readonly scatterExceedsUncertainty: boolean
  readonly residuals: readonly CalibrationResidual[]
  readonly outliers: readonly number[]
  readonly correctionAt: readonly CalibrationCorrection[]
  readonly verdicts: readonly RuleVerdict[]
  readonly diagnosis: GaugeFault
  /** Of the true speed at the highest reading. */
  readonly budget: readonly BudgetLine[]
  readonly series: readonly CalibrationSeries[]
  readonly suggested?: SuggestedSetting
  readonly robust?: RobustFit
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

function corrections(
  { speedsMPerS }: GaugeCalibrationRequest,
  calibration: Calibration,
  unit: SpeedUnit,
): CalibrationCorrection[] {
  const { lowestTrueMPerS: low, highestTrueMPerS: high } = calibration
  const row = (speed: number, u?: number): CalibrationCorrection => ({
    speedMPerS: speed,
    trueWhenIndicatedMPerS: trueWhenIndicated(calibration, speed, u),
    indicatedWhenTrueMPerS: indicatedWhenTrue(calibration, speed, u),
    withinReadings: speed >= low && speed <= high,
  })
  return speedsMPerS === undefined
    ? tableSpeeds(unit, high).map((speed) => row(speed))
    : speedsMPerS.map((speed) =>
        row(speed.value, statesUncertainty(speed) ? standardUncertainty(speed) : undefined),
      )
}

/** Error of the readings, and of the line with its uncertainty, in km/h against the true speed. */
function seriesOf(calibration: Calibration, readings: readonly CalibrationReading[]): CalibrationSeries[] {
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
        .map(({ trueMPerS, indicatedMPerS }) => [
          kmh(trueMPerS.value),
          kmh(indicatedMPerS.value - trueMPerS.value),
        ])
        .sort((a, b) => a[0]! - b[0]!),
    },
    curve('error of the line against true speed', 0),
    curve('error of the line against true speed, lower end of uncertainty', -1),
    curve('error of the line against true speed, upper end of uncertainty', 1),
  ]
}

function symptomsOf(
  { input = 'turns', on = 'road', distanceCheck }: GaugeCalibrationRequest,
  { scale, offsetMPerS, lowestTrueMPerS, highestTrueMPerS }: Calibration,
  unit: SpeedUnit,
): Symptoms {
  const symptoms: Mutable<Symptoms> = {
    scale,
    offsetMPerS,
    lowestMPerS: lowestTrueMPerS,
    highestMPerS: highestTrueMPerS,
    input,
    on,
    unit,
  }
  if (distanceCheck !== undefined)
    symptoms.odometerPerTrue = quotient(distanceCheck.indicatedM, distanceCheck.trueM)
  return symptoms
}

/** Round true speeds of the dial, up to its highest reading or the end of its range. */
function dialSpeeds(
  { dialMaxMPerS, topSpeedMPerS }: GaugeCalibrationRequest,
  { highestTrueMPerS }: Calibration,
  unit: SpeedUnit,
): number[] {
  const end = topSpeedMPerS ?? dialMaxMPerS
  return tableSpeeds(unit, end === undefined ? highestTrueMPerS : Math.max(highestTrueMPerS, end.value))
}

const number = new Intl.NumberFormat('en-US', { maximumSignificantDigits: 3 })

function outlierNotes({ outliers, robust, scale }: Calibration): Note[] {
  if (robust === undefined) return []
  const which = outliers.map((one) => one + 1).join(', ')
  return [
    cautionNote(
      'outlying-readings',
      `Reading ${which} is an outlier. It is included in the fit; a robust fit gives a scale of ${number.format((robust.slope - 1) * 100)} % instead of ${number.format((scale.value - 1) * 100)} %. Check the reading, and leave it out only for a known reason.`,
    ),
  ]
}

const BEYOND_READINGS: Note = infoNote(
  'beyond-readings',
  'Some speeds lie below the lowest or above the highest reading: there the line is extrapolated, and a nonlinear scale would go unnoticed.',
)

function sourcesOf({ line, robust }: Calibration, rules: readonly NamedRule[]): SourceId[] {
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
  return sources
}

function faultOf({ fault, findings, headScale }: Diagnosis): GaugeFault {
  if (headScale === undefined) return { fault, findings }
  return {
    fault,
    headScalePercent: (headScale.value - 1) * 100,
    headScalePercentPlusMinus: plusMinus(headScale) * 100,
    findings,
  }
}

function robustFit({ slope, intercept, slopeRange }: NonNullable<Calibration['robust']>): RobustFit {
  const fit = { scalePercent: (slope - 1) * 100, offsetMPerS: intercept }
  if (slopeRange === undefined) return fit
  const [low, high] = slopeRange
  return { ...fit, scaleLowPercent: (low - 1) * 100, scaleHighPercent: (high - 1) * 100 }
}

const residualsOf = ({ line, outliers }: Calibration): CalibrationResidual[] =>
  line.residuals.map((residual, reading) => ({
    reading,
    residualMPerS: residual,
    standardized: line.standardized[reading]!,
    outlier: outliers.includes(reading),
  }))

/**
 * Calibration of a dial: its line, corrections both ways, verdicts, the fault, and what to set next.
 *
 *     indicated = a + b·true      scale error = 100·(b − 1) %      scatter of one reading = 2·s
 *
 * a and b are offset and scale by `calibrate`, s is the standard deviation of the readings about the line.
 *
 * @param request - Readings [m/s] with their uncertainties, model, rules, ends of dial and vehicle [m/s], present setting [1/m], distance check [m]
 * @param unit - Unit of the dial: decides the round speeds and the unit in texts
 * @returns Line, residuals, corrections, verdicts, diagnosis, suggested setting where there is a present one, robust line where there are outliers
 * @throws {DomainError} `too-few-readings`, `uncertainty-on-some-readings`, `readings-at-one-speed`, `reading-falls-with-speed`, `did-not-converge`, `rule-needs-dial-max`, `rule-without-limits`, `rule-bounds-crossed`
 * @see JCGM 100:2008, H.3; JCGM 106:2012, 7.4; US War Department TM 9-1829A (1944)
 * @example gaugeCalibration({ model: 'proportional', readings: [10, 20, 30].map((v) => ({ indicatedMPerS: uncertain(1.05 * v, 'y', 0.1), trueMPerS: uncertain(v, 'x', 0.1) })) }, 'mph').scalePercent // 5 ± 1e-9
 * @example gaugeCalibration({ model: 'proportional', current: { constantPerM: exact(1) }, readings: [10, 20, 30].map((v) => ({ indicatedMPerS: uncertain(1.05 * v, 'y', 0.1), trueMPerS: uncertain(v, 'x', 0.1) })) }, 'mph').suggested.constantPerM.value // 1.05 ± 1e-9
 */
export function gaugeCalibration(request: GaugeCalibrationRequest, unit: SpeedUnit): GaugeCalibration {
  const { readings, model, dialMaxMPerS, topSpeedMPerS, current } = request
  const calibration = withPointer('/readings', () => calibrate(model, readings))
  const { line, scale, offsetMPerS, robust, highestTrueMPerS: highest } = calibration
  const rules = givenRules(request.rules)
  const symptoms = symptomsOf(request, calibration, unit)
  const diagnosis = diagnoseHead(symptoms)
  const correctionAt = corrections(request, calibration, unit)
  const judged = calibrationVerdicts(calibration, rules, {
    dialMaxMPerS: dialMaxMPerS?.value,
    topSpeedMPerS: topSpeedMPerS?.value,
  })
  const notes = [...calibration.notes, ...outlierNotes(calibration), ...judged.notes]
  const out: Mutable<GaugeCalibration> = {
    fit: model,
    scalePercent: (scale.value - 1) * 100,
    scalePercentPlusMinus: plusMinus(scale) * 100,
    offsetMPerS,
    correlation: calibration.correlation,
    readingScatterMPerS: COVERAGE_FACTOR * line.readingSd,
    scatterExceedsUncertainty: line.scatterExceedsUncertainty,
    residuals: residualsOf(calibration),
    outliers: calibration.outliers,
    correctionAt,
    verdicts: judged.verdicts,
    diagnosis: faultOf(diagnosis),
    budget: budget(trueWhenIndicated(calibration, indicatedWhenTrue(calibration, highest).value)),
    series: seriesOf(calibration, readings),
    sources: sourcesOf(calibration, rules),
    notes,
  }
  if (robust !== undefined) out.robust = robustFit(robust)
  if (current !== undefined) {
    const speedsMPerS = dialSpeeds(request, calibration, unit)
    const next = withPointer('/current', () => suggestedSetting(current, symptoms, diagnosis, speedsMPerS))
    out.suggested = next.suggested
    notes.push(...next.notes)
  }
  if (correctionAt.some(({ withinReadings }) => !withinReadings)) notes.push(BEYOND_READINGS)
  return out
}
