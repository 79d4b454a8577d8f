import { DomainError, finite } from '../errors.js'
import { coverageFactor95 } from './distributions.js'
import { COVERAGE_FACTOR } from './figure.js'

/**
 * Mean of readings.
 *
 *     x̄ = Σ xₖ / n
 *
 * @param readings - Readings of one quantity, any unit, at least one
 * @returns x̄, unit of the readings
 * @throws {DomainError} `too-few-readings`, `not-finite`
 * @see JCGM 100:2008, 4.2.1 eq. (3)
 * @example mean([1, 2, 6]) // 3 ± 0
 */
export function mean(readings: readonly number[]): number {
  if (readings.length === 0)
    throw new DomainError('too-few-readings', 'readings: expected at least 1, got 0', { min: 1 })
  return finite(
    'mean',
    readings.reduce((total, reading) => total + finite('reading', reading), 0) / readings.length,
  )
}

/**
 * Standard uncertainty of the mean of repeated readings (type A evaluation).
 *
 *     u(x̄) = √( Σ(xₖ − x̄)² / (n·(n − 1)) )
 *
 * Assumes independent readings; drift during the run makes the result too small.
 *
 * @param readings - Readings of one quantity, any unit, at least two
 * @returns u(x̄), k = 1, unit of the readings
 * @throws {DomainError} `too-few-readings`, `not-finite`
 * @see JCGM 100:2008, 4.2.3 eq. (5)
 * @example standardUncertaintyOfMean([10.00, 10.02, 10.04]) // 0.011547 ± 1e-6
 */
export function standardUncertaintyOfMean(readings: readonly number[]): number {
  const n = readings.length
  if (n < 2) throw new DomainError('too-few-readings', `readings: expected at least 2, got ${n}`, { min: 2 })
  const middle = mean(readings)
  const squares = readings.reduce((total, reading) => total + (reading - middle) ** 2, 0)
  return finite('uncertainty', Math.sqrt(squares / (n * (n - 1))))
}

/**
 * Standard uncertainty of the mean of few readings, widened so that twice its value still covers 95 %.
 *
 *     u = u(x̄) · t₉₅(n − 1) / 2
 *
 * Every `plusMinus` of the service is 2·u; for three readings Student's t requires 4.30, and this factor makes up the
 * difference, so that the uncertainty of few readings is not underestimated.
 *
 * @param readings - Readings of one quantity, any unit, at least two
 * @returns u, unit of the readings
 * @throws {DomainError} `too-few-readings`, `not-finite`
 * @see JCGM 100:2008, 4.2.3, G.3.2
 * @example 2 * coveringUncertaintyOfMean([10.00, 10.02, 10.04]) // 0.04968 ± 1e-5
 */
export function coveringUncertaintyOfMean(readings: readonly number[]): number {
  return (standardUncertaintyOfMean(readings) * coverageFactor95(readings.length - 1)) / COVERAGE_FACTOR
}

/**
 * Indexes of outliers.
 *
 *     Mₖ = 0.6745 · (xₖ − x̃) / MAD,  outlier when |Mₖ| > 3.5;  MAD = median |xₖ − x̃|
 *
 * If more than half of the readings are equal, MAD is zero; then any reading that differs from them by
 * more than `resolution` is an outlier.
 *
 * @param readings - Readings of one quantity, any unit; fewer than four give none
 * @param resolution - Differences up to this are never outliers, unit of the readings. [>= 0]
 * @returns Indexes into `readings`, ascending
 * @throws {DomainError} `not-finite`
 * @see NIST/SEMATECH e-Handbook 1.3.5.17 (modified Z-score of Iglewicz and Hoaglin)
 * @example outlierIndexes([2.01, 2.02, 2.00, 2.01, 2.31], 0.001) // [4]
 */
export function outlierIndexes(readings: readonly number[], resolution: number): number[] {
  if (readings.length < 4) return []
  const middle = median(readings)
  const deviations = readings.map((reading) => Math.abs(finite('reading', reading) - middle))
  const spread = median(deviations)
  return readings.flatMap((_, index) => {
    const deviation = deviations[index]!
    return deviation > resolution && 0.6745 * deviation > 3.5 * spread ? [index] : []
  })
}

/**
 * Median of readings.
 *
 *     x̃ = middle value in order, or the mean of the two middle ones
 *
 * @param readings - Readings, any unit, at least one
 * @returns Median, unit of the readings
 * @throws {DomainError} `too-few-readings`, `not-finite`
 * @see NIST/SEMATECH e-Handbook 1.3.5.1
 * @example median([5, 1, 3, 2]) // 2.5 ± 0
 */
export function median(readings: readonly number[]): number {
  if (readings.length === 0)
    throw new DomainError('too-few-readings', 'readings: expected at least 1, got 0', { min: 1 })
  const sorted = readings.map((reading) => finite('reading', reading)).sort((a, b) => a - b)
  const half = sorted.length >> 1
  return sorted.length % 2 === 1 ? sorted[half]! : (sorted[half - 1]! + sorted[half]!) / 2
}
