import jstat from 'jstat'
import { finite, within } from '../errors.js'

/** Coefficients of the Chebyshev series of `erf`, from the constant one up. */
const ERF_SERIES = Float64Array.of(
  -1.3026537197817094,
  0.6419697923564902,
  1.9476473204185836e-2,
  -9.561514786808631e-3,
  -9.46595344482036e-4,
  3.66839497852761e-4,
  4.2523324806907e-5,
  -2.0278578112534e-5,
  -1.624290004647e-6,
  1.30365583558e-6,
  1.5626441722e-8,
  -8.5238095915e-8,
  6.529054439e-9,
  5.059343495e-9,
  -9.91364156e-10,
  -2.27365122e-10,
  9.6467911e-11,
  2.394038e-12,
  -6.886027e-12,
  8.94487e-13,
  3.13092e-13,
  -1.12708e-13,
  3.81e-16,
  7.106e-15,
  -1.523e-15,
  -9.4e-17,
  1.21e-16,
  -2.8e-17,
)

/**
 * Error function.
 *
 *     erf(x) = 1 − t·exp(−x² + P(t)),  t = 2/(2 + x) for x ≥ 0;  erf(−x) = −erf(x)
 *
 * P is a Chebyshev series in 4·t − 2, summed by Clenshaw's recurrence. Accurate to 1.2e-16 of 1. The series of jstat, which makes the list of its
 * coefficients anew at each call: the coverage of a tolerance takes thousands of calls.
 *
 * @param x - Any number, ±Infinity included
 * @returns erf(x), -1 to 1
 * @see NIST/SEMATECH e-Handbook 1.3.6.7.1 (table of the cumulative normal, ½ (1 + erf(z/√2)))
 * @example erf(0.5) // 0.5204998778 ± 1e-10
 * @example erf(-2) // -0.9953222650 ± 1e-10
 */
export function erf(x: number): number {
  const size = Math.abs(x)
  const t = 2 / (2 + size)
  const place = 4 * t - 2
  let d = 0
  let before = 0
  for (let index = ERF_SERIES.length - 1; index > 0; index--) {
    const next = place * d - before + ERF_SERIES[index]!
    before = d
    d = next
  }
  const rest = t * Math.exp(-size * size + 0.5 * (ERF_SERIES[0]! + place * d) - before)
  return x < 0 ? rest - 1 : 1 - rest
}

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
  return Math.max(0, Math.min(1, 0.5 * (1 + erf(finite('z', z) / Math.SQRT2))))
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
