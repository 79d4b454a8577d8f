import { DomainError, within } from '../errors.js'
import { COVERAGE_FACTOR, exact, type Figure, uncertain } from '../measure/figure.js'
import {
  type FitPoint,
  fitLine,
  fitProportional,
  type LineFit,
  medianRatio,
  type RobustLine,
  theilSen,
} from '../measure/line-fit.js'
import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import { propagate, scaled, sum } from '../measure/propagation.js'
import { median, outlierIndexes } from '../measure/readings.js'

/** A reading of the dial with the true speed from a reference; a figure without uncertainty: it was not given. */
export interface CalibrationReading {
  readonly indicatedMPerS: Figure
  readonly trueMPerS: Figure
}

export type FitKind = 'proportional' | 'linear'

export interface Calibration {
  readonly kind: FitKind
  readonly line: LineFit
  /** Slope: indicated ÷ true, apart from the offset. */
  readonly scale: Figure
  readonly offsetMPerS: Figure
  /** Correlation coefficient of scale and offset, -1 to 1; 0 for a proportional fit. */
  readonly correlation: number
  /** Standard uncertainty of one reading of the dial, from the scatter of the readings [m/s]. */
  readonly uReadingMPerS: number
  readonly lowestTrueMPerS: number
  readonly highestTrueMPerS: number
  readonly outliers: readonly number[]
  /** The robust line, which outliers do not affect; present when there are outliers. */
  readonly robust?: RobustLine
  readonly notes: readonly Note[]
}

const LEVEL = 'calibration: level of the line'
const SLOPE = 'calibration: slope of the line'
const ONE_READING = 'one reading of the dial'

/** Minimum number of readings for detecting outliers, by kind of fit: with fewer, chance alone marks too many. */
const MIN_FOR_OUTLIERS: Readonly<Record<FitKind, number>> = { proportional: 5, linear: 7 }

/** A residual within this many of its own standard uncertainties is never an outlier. */
const ALLOWED_STANDARD_UNCERTAINTIES = 3

/** Relative difference below which two speeds count as equal: readings of a dial carry no more digits. */
const READING_RESOLUTION = 1e-6

/**
 * Outlying readings, judged against a robust line.
 *
 *     r = y − (a + b·x) on the robust line;  outlier by the modified Z-score of r and |r| > 3·√(u_y² + b²·u_x²)
 *
 * a and b are offset and slope of the robust line, u_x and u_y the uncertainties of a reading.
 *
 * @param kind - Which line
 * @param points - Readings; fewer than five (proportional) or seven (linear) give none
 * @returns Indexes, ascending, and the robust line when there are any
 * @throws {DomainError} `readings-at-one-speed`
 * @see NIST/SEMATECH e-Handbook 1.3.5.17; P. K. Sen (1968)
 * @example linearOutliers('proportional', [1, 2, 3, 4, 5, 6].map((x) => ({ x, y: x === 3 ? 5 : x, ux: 0, uy: 0 }))).outliers // [2]
 */
export function linearOutliers(
  kind: FitKind,
  points: readonly FitPoint[],
): { readonly outliers: readonly number[]; readonly robust?: RobustLine } {
  if (points.length < MIN_FOR_OUTLIERS[kind]) return { outliers: [] }
  const robust = kind === 'linear' ? theilSen(points) : medianRatio(points)
  const residuals = points.map(({ x, y }) => y - robust.intercept - robust.slope * x)
  const resolution = READING_RESOLUTION * median(points.map(({ y }) => Math.abs(y)))
  const outliers = outlierIndexes(residuals, resolution).filter((index) => {
    const { ux, uy } = points[index]!
    return Math.abs(residuals[index]!) > ALLOWED_STANDARD_UNCERTAINTIES * Math.hypot(uy, robust.slope * ux)
  })
  return outliers.length === 0 ? { outliers } : { outliers, robust }
}

function notesOf(kind: FitKind, line: LineFit, points: readonly FitPoint[]): Note[] {
  const notes: Note[] = []
  if (line.scatterExceedsUncertainty) {
    notes.push(
      cautionNote(
        'scatter-exceeds-uncertainty',
        'The readings scatter about the line by more than their plusMinus allow (chi square, 5 %), so the uncertainty is taken from the scatter. Look for a wavering pointer, a slope, wind, or an underestimated uncertainty.',
      ),
    )
  }
  if (!line.weighted && line.readingSd <= READING_RESOLUTION * median(points.map(({ y }) => Math.abs(y)))) {
    notes.push(
      cautionNote(
        'no-scatter',
        'The readings lie exactly on the line and carry no uncertainty, so the answer shows none, although no dial reads that well. Give plusMinus, at least half of the smallest step read.',
      ),
    )
  }
  const uncertain = COVERAGE_FACTOR * line.uIntercept * line.widening
  if (kind === 'linear' && Math.abs(line.intercept) <= uncertain) {
    notes.push(
      infoNote(
        'offset-not-proven',
        'The offset is smaller than its uncertainty: a proportional fit explains the readings equally well, with less uncertainty.',
      ),
    )
  }
  if (kind === 'proportional' && points.length >= 4 && new Set(points.map(({ x }) => x)).size > 1) {
    const free = fitLine(points)
    if (Math.abs(free.intercept) > COVERAGE_FACTOR * free.uIntercept * free.widening) {
      notes.push(
        cautionNote(
          'offset-significant',
          'A straight line with an offset fits these readings better than one through zero: use the linear model. An offset comes from the head, not from a ratio.',
        ),
      )
    }
  }
  return notes
}

/** Not by the sum of squares: that of a very small uncertainty is zero, and zero means that none was given. */
const uncertaintyOf = ({ contributions }: Figure) => Math.hypot(...contributions.map(({ part }) => part))

/**
 * Calibration of a dial from readings against true speeds.
 *
 *     indicated = a + b·true      proportional: a = 0      scale = b,  offset = a
 *     r(a, b) = −x̄·u_b / u_a
 *
 * r(a, b) is the correlation of the two, x̄ the weighted mean of the true speeds.
 *
 * Weights come from the uncertainties of the readings, on both axes. Twice the standard uncertainty of the result covers 95 %, even with few
 * readings. Readings count as independent; more readings do not reduce an uncertainty that is common to all (a satellite speed on one slope).
 *
 * @param kind - `proportional` (a wrong ratio) or `linear` (a wrong ratio and an offset of the head)
 * @param readings - At least two (proportional) or three (linear); one fewer when they carry uncertainties. Speeds 0.01 .. 300 m/s
 * @returns The line, scale and offset as figures, outliers
 * @throws {DomainError} `too-few-readings`, `uncertainty-on-some-readings`, `readings-at-one-speed`, `reading-falls-with-speed`, `did-not-converge`
 * @see JCGM 100:2008, H.3; York et al. (2004); NIST StRD Norris
 * @example calibrate('proportional', [10, 20, 30].map((v) => ({ indicatedMPerS: uncertain(1.05 * v, 'y', 0.2), trueMPerS: uncertain(v, 'x', 0.1) }))).scale.value // 1.05 ± 1e-9
 */
export function calibrate(kind: FitKind, readings: readonly CalibrationReading[]): Calibration {
  const points = readings.map(({ indicatedMPerS, trueMPerS }) => ({
    x: within('true', trueMPerS.value, 0, 1000),
    y: within('indicated', indicatedMPerS.value, 0, 1000),
    ux: uncertaintyOf(trueMPerS),
    uy: uncertaintyOf(indicatedMPerS),
  }))
  const line = kind === 'linear' ? fitLine(points) : fitProportional(points)
  if (!(line.slope > 0)) {
    throw new DomainError(
      'reading-falls-with-speed',
      `readings: expected the indicated speed to rise with the true speed, got a slope of ${line.slope}`,
      {},
    )
  }
  const scale = uncertain(line.slope, SLOPE, line.uSlope * line.widening)
  const level = uncertain(0, LEVEL, line.uCentre * line.widening)
  const offsetMPerS =
    kind === 'linear'
      ? propagate(line.intercept, [
          [level, 1],
          [scale, -line.centreX],
        ])
      : exact(0)
  const trues = points.map(({ x }) => x)
  return {
    ...linearOutliers(kind, points),
    kind,
    line,
    scale,
    offsetMPerS,
    correlation: line.uIntercept === 0 ? 0 : (-line.centreX * line.uSlope) / line.uIntercept,
    uReadingMPerS: line.readingSd * line.widening,
    lowestTrueMPerS: Math.min(...trues),
    highestTrueMPerS: Math.max(...trues),
    notes: notesOf(kind, line, points),
  }
}

const reading = (calibration: Calibration, u: number | undefined) =>
  uncertain(0, ONE_READING, u ?? calibration.uReadingMPerS)

/**
 * True speed behind one reading of a calibrated dial.
 *
 *     x = (y − a)/b      u² = s_y²/b² + s_a²/b² + x²·s_b²/b² + 2·x·s_ab/b²
 *
 * s_y is the uncertainty of the one reading; a, b and their covariance are those of the calibration.
 *
 * @param calibration - The calibration
 * @param indicatedMPerS - y, what the dial shows. [m/s, >= 0]
 * @param uIndicatedMPerS - Standard uncertainty of that reading; default: from the scatter of the calibration. [m/s]
 * @returns x with its uncertainty, never below zero. [m/s]
 * @throws {DomainError} `not-finite`
 * @see JCGM 100:2008, 5.2.2 eq. (13) on x = (y − a)/b
 * @example trueWhenIndicated(calibrate('linear', [10, 20, 30].map((v) => ({ indicatedMPerS: uncertain(1.05 * v + 1, 'y', 0.2), trueMPerS: exact(v) }))), 22).value // 20 ± 1e-9
 */
export function trueWhenIndicated(
  calibration: Calibration,
  indicatedMPerS: number,
  uIndicatedMPerS?: number,
): Figure {
  const { scale, offsetMPerS } = calibration
  const x = (indicatedMPerS - offsetMPerS.value) / scale.value
  return propagate(Math.max(0, x), [
    [reading(calibration, uIndicatedMPerS), 1 / scale.value],
    [offsetMPerS, -1 / scale.value],
    [scale, -x / scale.value],
  ])
}

/**
 * What a calibrated dial shows at a true speed.
 *
 *     y = a + b·x      u² = s_y² + s_a² + x²·s_b² + 2·x·s_ab + b²·u_x²
 *
 * a and b are offset and scale of the calibration, s_a and s_b their standard uncertainties, s_ab their covariance;
 * s_y is that of one reading.
 *
 * @param calibration - The calibration
 * @param trueMPerS - x. [m/s, >= 0]
 * @param uTrueMPerS - Standard uncertainty of x; default: 0. [m/s]
 * @returns y with the uncertainty of one reading, never below zero. [m/s]
 * @throws {DomainError} `not-finite`
 * @see JCGM 100:2008, 5.2.2 eq. (13)
 * @example indicatedWhenTrue(calibrate('linear', [10, 20, 30].map((v) => ({ indicatedMPerS: uncertain(1.05 * v + 1, 'y', 0.2), trueMPerS: exact(v) }))), 20).value // 22 ± 1e-9
 */
export function indicatedWhenTrue(calibration: Calibration, trueMPerS: number, uTrueMPerS = 0): Figure {
  const { scale, offsetMPerS } = calibration
  const y = offsetMPerS.value + scale.value * trueMPerS
  return propagate(Math.max(0, y), [
    [sum(offsetMPerS, scaled(scale, trueMPerS)), 1],
    [uncertain(trueMPerS, 'true speed', uTrueMPerS), scale.value],
    [reading(calibration, undefined), 1],
  ])
}
