import jstat from 'jstat'
import { finite, within } from '../errors.js'

/**
 * Probability that a standard normal variable is at most z.
 *
 *     Φ(z) = ½ (1 + erf(z / √2))
 *
 * @param z - Standard score, ±Infinity included; beyond ±8.3 the result is 0 or 1, which is accurate to 1e-16
 * @returns Φ(z), 0 to 1
 * @throws {DomainError} `not-finite` for NaN
 * @see NIST/SEMATECH e-Handbook 1.3.6.7.1 (table of the cumulative normal)
 * @example normalCdf(1.96) // 0.9750021 ± 1e-7
 */
export function normalCdf(z: number): number {
  // Most limits lie many standard uncertainties away and need no series: Φ(−8.3) is 5e-17.
  if (z > 8.3) return 1
  if (z < -8.3) return 0
  return Math.max(0, Math.min(1, jstat.normal.cdf(finite('z', z), 0, 1)))
}

/**
 * Integral of the cumulative normal distribution: a ramp with a rounded corner.
 *
 *     R(x) = ∫ Φ(t/u) dt from −∞ to x = x·Φ(x/u) + u·φ(x/u);  max(x, 0) for u = 0
 *
 * φ is the density of the standard normal distribution.
 *
 * Differences of R give the probabilities of the sum of a normal and a rectangular variable.
 *
 * @param x - Upper end, any unit
 * @param u - Standard uncertainty, same unit. [>= 0]
 * @returns R(x), same unit
 * @throws {DomainError} `not-finite` for NaN
 * @see derived, by parts from the definition of Φ
 * @example normalRamp(0, 1) // 0.398942 ± 1e-6
 * @example normalRamp(3, 0) // 3 ± 0
 */
export function normalRamp(x: number, u: number): number {
  if (u === 0) return Math.max(x, 0)
  const z = x / u
  if (z > 8.3) return x
  if (z < -8.3) return 0
  return x * normalCdf(z) + (u * Math.exp((-z * z) / 2)) / Math.sqrt(2 * Math.PI)
}

/**
 * Two-sided 95 % coverage factor of Student's t.
 *
 *     P(−t ≤ T ≤ t) = 0.95 at ν degrees of freedom
 *
 * T follows Student's distribution.
 *
 * Accurate to 1e-8 of its value.
 *
 * @param degreesOfFreedom - ν, need not be whole. [1 .. 1e6]
 * @returns t₉₅(ν)
 * @throws {DomainError} `out-of-range`
 * @see JCGM 100:2008, Table G.2
 * @example coverageFactor95(4) // 2.78 ± 5e-3
 */
export function coverageFactor95(degreesOfFreedom: number): number {
  return jstat.studentt.inv(0.975, within('degreesOfFreedom', degreesOfFreedom, 1, 1e6))
}

/**
 * Probability that a chi-square variable exceeds a value: the p-value of a fit.
 *
 *     P(χ²(ν) > x)
 *
 * Accurate to 1e-10; smaller values are 0.
 *
 * @param chiSquare - x. [>= 0]
 * @param degreesOfFreedom - ν. [1 .. 1e6]
 * @returns Probability, 0 to 1
 * @throws {DomainError} `out-of-range`, `not-finite`
 * @see NIST/SEMATECH e-Handbook 1.3.6.7.4 (critical values of the chi-square distribution)
 * @example chiSquareTail(3.841, 1) // 0.05 ± 1e-4
 * @example chiSquareTail(18.307, 10) // 0.05 ± 1e-4
 */
export function chiSquareTail(chiSquare: number, degreesOfFreedom: number): number {
  within('chiSquare', chiSquare, 0, Number.MAX_VALUE)
  within('degreesOfFreedom', degreesOfFreedom, 1, 1e6)
  return Math.max(0, Math.min(1, 1 - jstat.chisquare.cdf(chiSquare, degreesOfFreedom)))
}
