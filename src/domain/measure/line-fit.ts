import { DomainError, finite } from '../errors.js'
import { chiSquareTail, coverageFactor95 } from './distributions.js'
import { COVERAGE_FACTOR } from './figure.js'
import { median } from './readings.js'

/** A pair of readings with their standard uncertainties; zeros in both coordinates of every point: not known. */
export interface FitPoint {
  readonly x: number
  readonly y: number
  readonly ux: number
  readonly uy: number
}

/**
 * A fitted line y = intercept + slope·x.
 *
 * Its uncertainty is stored as two independent parts, that of the level at `centreX` and that of the slope:
 * u(y)² = uCentre² + (x − centreX)²·uSlope². This form avoids cancellation, and the correlation of slope and intercept follows from it.
 */
export interface LineFit {
  readonly slope: number
  readonly intercept: number
  readonly centreX: number
  readonly uSlope: number
  readonly uCentre: number
  readonly uIntercept: number
  /** Standard deviation of one reading about the line, unit of y. */
  readonly readingSd: number
  /** y − intercept − slope·x of each point. */
  readonly residuals: readonly number[]
  /** Residual of each point divided by its standard uncertainty. */
  readonly standardized: readonly number[]
  readonly degreesOfFreedom: number
  /** Whether the weights come from given uncertainties. */
  readonly weighted: boolean
  /** Σ of squared standardized residuals, if uncertainties are given. */
  readonly chiSquare?: number
  /** The points scatter more than their uncertainties allow, at the level of 5 %. */
  readonly scatterExceedsUncertainty: boolean
  /** Factor for each u and for readingSd, so that twice u covers 95 % even with few points. */
  readonly widening: number
}

/** Maximum iterations of the slope with uncertainties on both axes; each gains at least two digits on usable data. */
const MAX_ITERATIONS = 200

/** Relative change of the slope that ends the iteration: 1e-12, far below any uncertainty. */
const SLOPE_TOLERANCE = 1e-13

/** p-value below which the scatter counts as larger than the uncertainties allow. */
const SURPRISING = 0.05

function checkPoints(points: readonly FitPoint[], minUnweighted: number): { weighted: boolean } {
  for (const { x, y, ux, uy } of points) {
    finite('x', x)
    finite('y', y)
    finite('ux', ux)
    finite('uy', uy)
  }
  const withUncertainty = points.filter(({ ux, uy }) => ux > 0 || uy > 0).length
  if (withUncertainty > 0 && withUncertainty < points.length) {
    const index = points.findIndex(({ ux, uy }) => ux === 0 && uy === 0)
    throw new DomainError(
      'uncertainty-on-some-readings',
      `readings/${index}: it has no uncertainty while ${withUncertainty} of ${points.length} have; without one it would count as exact and dominate the fit, so give plusMinus with every reading or with none`,
      { pointer: `/${index}` },
    )
  }
  const weighted = withUncertainty > 0
  const minPoints = weighted ? minUnweighted - 1 : minUnweighted
  if (points.length < minPoints) {
    throw new DomainError(
      'too-few-readings',
      `readings: expected at least ${minPoints}${weighted ? '' : ` (${minPoints - 1} when each carries a plusMinus)`}, got ${points.length}`,
      { min: minPoints },
    )
  }
  return { weighted }
}

interface Centred {
  readonly slope: number
  readonly centreX: number
  readonly centreY: number
  /** Center of the adjusted points, where slope and level are independent. */
  readonly adjustedX: number
  readonly sumW: number
  readonly sumSquares: number
  readonly weights: readonly number[]
}

/** One step of the iteration: weights from the slope, slope from the weights. */
function step(points: readonly FitPoint[], slope: number, throughOrigin: boolean): Centred {
  const weights = points.map(({ ux, uy }) => 1 / (uy * uy + slope * slope * ux * ux))
  const sumW = weights.reduce((total, w) => total + w, 0)
  let centreX = 0
  let centreY = 0
  if (!throughOrigin) {
    for (const [i, { x, y }] of points.entries()) {
      centreX += (weights[i]! * x) / sumW
      centreY += (weights[i]! * y) / sumW
    }
  }
  const betas = points.map(
    ({ x, y, ux, uy }, i) => weights[i]! * ((x - centreX) * uy * uy + slope * (y - centreY) * ux * ux),
  )
  let over = 0
  let under = 0
  let meanBeta = 0
  for (const [i, { x, y }] of points.entries()) {
    const wb = weights[i]! * betas[i]!
    over += wb * (y - centreY)
    under += wb * (x - centreX)
    meanBeta += wb / sumW
  }
  if (throughOrigin) meanBeta = 0
  const sumSquares = betas.reduce((total, beta, i) => total + weights[i]! * (beta - meanBeta) ** 2, 0)
  return {
    slope: over / under,
    centreX,
    centreY,
    adjustedX: centreX + meanBeta,
    sumW,
    sumSquares,
    weights,
  }
}

function converge(points: readonly FitPoint[], throughOrigin: boolean): Centred {
  // Start from the fit with exact x.
  let fit = step(
    points.map(({ x, y }) => ({ x, y, ux: 0, uy: 1 })),
    0,
    throughOrigin,
  )
  for (let i = 0; i < MAX_ITERATIONS; i++) {
    finite('slope', fit.slope)
    const next = step(points, fit.slope, throughOrigin)
    const change = Math.abs(next.slope - fit.slope)
    fit = next
    if (change <= SLOPE_TOLERANCE * Math.abs(next.slope)) return fit
  }
  throw new DomainError(
    'did-not-converge',
    `readings: the fit did not converge in ${MAX_ITERATIONS} iterations; the readings do not lie near a line, or their uncertainties are as large as their range`,
  )
}

function finish(points: readonly FitPoint[], weighted: boolean, throughOrigin: boolean): LineFit {
  const plainPoints = weighted ? points : points.map(({ x, y }) => ({ x, y, ux: 0, uy: 1 }))
  const fit = converge(plainPoints, throughOrigin)
  const { slope, centreX, centreY } = fit
  const residuals = points.map(({ x, y }) => y - centreY - slope * (x - centreX))
  const chiSquare = residuals.reduce((total, r, i) => total + fit.weights[i]! * r * r, 0)
  const degreesOfFreedom = points.length - (throughOrigin ? 1 : 2)
  // Without uncertainties the weights are 1 and the scatter gives the uncertainty; with them it only has to be consistent.
  const scatter = degreesOfFreedom > 0 ? Math.sqrt(chiSquare / degreesOfFreedom) : 1
  const sigma = weighted ? 1 : scatter
  const scatterExceedsUncertainty =
    weighted && degreesOfFreedom > 0 && chiSquareTail(chiSquare, degreesOfFreedom) < SURPRISING
  const student = degreesOfFreedom > 0 ? coverageFactor95(degreesOfFreedom) / COVERAGE_FACTOR : 1
  const widening = !weighted ? student : scatterExceedsUncertainty ? Math.max(1, scatter * student) : 1
  const uSlope = finite('uSlope', sigma / Math.sqrt(fit.sumSquares))
  const uCentre = throughOrigin ? 0 : sigma / Math.sqrt(fit.sumW)
  const adjustedX = throughOrigin ? 0 : fit.adjustedX
  const result = {
    slope,
    intercept: throughOrigin ? 0 : centreY - slope * centreX,
    centreX: adjustedX,
    uSlope,
    uCentre,
    uIntercept: throughOrigin ? 0 : Math.hypot(uCentre, adjustedX * uSlope),
    readingSd: finite('readingSd', sigma * Math.sqrt(points.length / fit.sumW)),
    residuals,
    standardized: residuals.map((r, i) =>
      sigma === 0 ? 0 : finite('standardized residual', (r * Math.sqrt(fit.weights[i]!)) / sigma),
    ),
    degreesOfFreedom,
    weighted,
    scatterExceedsUncertainty,
    widening,
  }
  return weighted ? Object.assign(result, { chiSquare }) : result
}

/**
 * Straight line through points, weighted by the uncertainty of both coordinates.
 *
 *     W = 1/(u_y² + b²·u_x²)      β = W·(u_y²·(x − x̄) + b·u_x²·(y − ȳ))      b = Σ W·β·(y − ȳ) / Σ W·β·(x − x̄)
 *     without uncertainties: b = Σ (x − x̄)(y − ȳ) / Σ (x − x̄)²,  s² = Σ r²/(n − 2)
 *
 * r are the residuals, s their standard deviation.
 *
 * The data are centered first, to avoid cancellation. With u_x = 0 this is the usual weighted fit; without uncertainties it is the ordinary fit, whose
 * uncertainties come from the scatter. Given uncertainties are used unless the scatter contradicts them (χ², 5 %); then the scatter
 * decides. Points count as independent.
 *
 * @param points - At least three at two or more x; two when they carry uncertainties
 * @returns The line, its residuals and its uncertainty (k = 1, see `widening`)
 * @throws {DomainError} `too-few-readings`, `uncertainty-on-some-readings`, `readings-at-one-speed`, `did-not-converge`, `not-finite`
 * @see D. York et al. (2004), Am. J. Phys. 72, 367, eq. (13): from memory; JCGM 100:2008, H.3; NIST StRD Norris
 * @example fitLine([1, 2, 3].map((x) => ({ x, y: 2 * x + 1, ux: 0, uy: 0 }))).intercept // 1 ± 1e-12
 */
export function fitLine(points: readonly FitPoint[]): LineFit {
  const { weighted } = checkPoints(points, 3)
  const xs = points.map(({ x }) => x)
  if (new Set(xs).size < 2) {
    throw new DomainError(
      'readings-at-one-speed',
      'readings: all lie at one speed; a straight line needs at least two speeds that differ by more than their uncertainty',
      {},
    )
  }
  return finish(points, weighted, false)
}

/**
 * Line through the origin, weighted by the uncertainty of both coordinates.
 *
 *     W = 1/(u_y² + b²·u_x²)      β = W·(u_y²·x + b·u_x²·y)      b = Σ W·β·y / Σ W·β·x
 *     without uncertainties: b = Σ x·y / Σ x²,  s² = Σ r²/(n − 1)
 *
 * r are the residuals, s their standard deviation.
 *
 * With x = 1 throughout it is the weighted mean of y.
 *
 * @param points - At least two; one when it carries an uncertainty. Not all at x = 0
 * @returns The line, its residuals and its uncertainty (k = 1, see `widening`)
 * @throws {DomainError} `too-few-readings`, `uncertainty-on-some-readings`, `readings-at-one-speed`, `did-not-converge`, `not-finite`
 * @see JCGM 100:2008, 5.1.2; York (2004) with a fixed origin: derived
 * @example fitProportional([{ x: 1, y: 2, ux: 0, uy: 0 }, { x: 2, y: 5, ux: 0, uy: 0 }]).slope // 2.4 ± 1e-12
 */
export function fitProportional(points: readonly FitPoint[]): LineFit {
  const { weighted } = checkPoints(points, 2)
  if (points.every(({ x }) => x === 0)) {
    throw new DomainError('readings-at-one-speed', 'readings: all lie at zero, which determines no slope', {})
  }
  return finish(points, weighted, true)
}

/** A robust line, which outliers do not affect. */
export interface RobustLine {
  readonly slope: number
  readonly intercept: number
  /** Confidence interval of the slope, about 95 %; absent with too few points. */
  readonly slopeRange?: readonly [number, number]
}

/** Two-sided 95 % quantile of the normal distribution. */
const Z95 = 1.959963984540054

/** Order statistics that bound the median at 95 %, or undefined where they lie outside the list. */
function rangeOf(sorted: readonly number[], halfWidth: number): readonly [number, number] | undefined {
  const low = Math.floor((sorted.length - halfWidth) / 2)
  const high = Math.ceil((sorted.length + halfWidth) / 2)
  if (low < 0 || high >= sorted.length) return undefined
  return [sorted[low]!, sorted[high]!]
}

const ascending = (values: readonly number[]) => [...values].sort((a, b) => a - b)

/**
 * Straight line by the median of all pairwise slopes.
 *
 *     b = median (yⱼ − yᵢ)/(xⱼ − xᵢ),  a = median (yᵢ − b·xᵢ);  range of b: order statistics by Kendall's τ
 *
 * τ is the rank correlation of the points.
 *
 * The breakdown point is 29 %: that share of the points may be arbitrary without affecting the line.
 *
 * @param points - Points at two or more x; weights are not used. At most a thousand
 * @returns The line, and the 95 % range of its slope
 * @throws {DomainError} `readings-at-one-speed`
 * @see P. K. Sen (1968), J. Am. Stat. Assoc. 63, 1379: estimate and interval
 * @example theilSen([0, 1, 2, 3, 4].map((x) => ({ x, y: x === 2 ? 99 : 3 * x + 1 }))).slope // 3 ± 1e-12
 */
export function theilSen(points: ReadonlyArray<Pick<FitPoint, 'x' | 'y'>>): RobustLine {
  const slopes: number[] = []
  for (let i = 0; i < points.length; i++) {
    for (let j = i + 1; j < points.length; j++) {
      const dx = points[j]!.x - points[i]!.x
      if (dx !== 0) slopes.push((points[j]!.y - points[i]!.y) / dx)
    }
  }
  if (slopes.length === 0)
    throw new DomainError('readings-at-one-speed', 'readings: all lie at one speed', {})
  const slope = finite('slope', median(slopes))
  const intercept = median(points.map(({ x, y }) => y - slope * x))
  const n = points.length
  const slopeRange = rangeOf(ascending(slopes), Z95 * Math.sqrt((n * (n - 1) * (2 * n + 5)) / 18))
  return slopeRange === undefined ? { slope, intercept } : { slope, intercept, slopeRange }
}

/**
 * Line through the origin by the median of the ratios.
 *
 *     b = median yᵢ/xᵢ;  range of b: order statistics by the binomial distribution
 *
 * @param points - Points with x > 0; weights are not used
 * @returns The line, and the 95 % range of its slope
 * @throws {DomainError} `too-few-readings`, `not-finite`
 * @see P. K. Sen (1968); NIST/SEMATECH e-Handbook 7.2.6 (order statistics about a quantile)
 * @example medianRatio([{ x: 1, y: 2 }, { x: 2, y: 4 }, { x: 3, y: 60 }]).slope // 2 ± 0
 */
export function medianRatio(points: ReadonlyArray<Pick<FitPoint, 'x' | 'y'>>): RobustLine {
  const ratios = points.filter(({ x }) => x !== 0).map(({ x, y }) => finite('ratio', y / x))
  const slope = median(ratios)
  const slopeRange = rangeOf(ascending(ratios), Z95 * Math.sqrt(ratios.length))
  return slopeRange === undefined ? { slope, intercept: 0 } : { slope, intercept: 0, slopeRange }
}
