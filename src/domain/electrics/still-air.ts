import { type Assumption, assumed } from '../measure/assumptions.js'
import { conformityProbability } from '../measure/conformity.js'
import { normalCdf } from '../measure/distributions.js'
import { COVERAGE_FACTOR, type Figure, uncertain } from '../measure/figure.js'
import { product, scaled, sum } from '../measure/propagation.js'
import { standardUncertainty } from '../measure/uncertainty.js'

/** Heat transfer from a small body to still air, radiation included: common practice, no source. [W/(m² K)] */
const STILL_AIR = { min: 5, max: 15 } as const

/** Heat transfer of a surface per area and kelvin. */
export interface HeatTransfer {
  readonly wPerM2K: Figure
  /** Unknown: uniformly distributed over the range for still air. */
  readonly assumed: boolean
}

/**
 * Given heat transfer, or that of still air.
 *
 *     h = given value, or uniform from 5 to 15 W/(m² K)
 *
 * @param given - h, if known. [W/(m² K)]
 * @param taken - Assumptions of the answer; gets one more if still air is assumed
 * @returns h, and whether it was assumed
 * @see common practice, no source
 * @example heatTransferOf(undefined, []).wPerM2K.value // 10 ± 0
 */
export function heatTransferOf(given: Figure | undefined, taken: Assumption[]): HeatTransfer {
  const { min, max } = STILL_AIR
  const wPerM2K = assumed(
    given,
    uncertain((min + max) / 2, 'heat transfer to still air', (max - min) / 2 / Math.sqrt(3)),
    { field: '/heatTransfer', value: '10 W/(m2 K), from 5 to 15', standing: 'common-practice' },
    taken,
  )
  return { wPerM2K, assumed: given === undefined }
}

/**
 * Probability that a body transfers its heat without exceeding its limit.
 *
 *     h·X >= Q;  X = A·(T_limit − Tₐ),  Q the heat generated at the limit
 *
 * A is the surface, h its heat transfer, Tₐ the temperature around it.
 *
 * The margin h·X − Q is linear in h, but the temperature depends on 1/h: a normal distribution of the temperature would
 * underestimate its hot side. An assumed h is uniform, and the probability is the mean over its range, in closed form for each part:
 * the integral of Φ(z) is z·Φ(z) + φ(z). Accurate to 2e-5.
 *
 * @param gives - X, heat transferred at the limit per unit of h. [m² K, or m K along a wire]
 * @param heat - Q. [W, or W/m along a wire]
 * @param heatTransfer - h
 * @returns Probability, 0 to 1
 * @see derived: power balance; JCGM 100:2008, 4.3.7 (uniform over the range)
 * @example staysCoolProbability(exact(0.02 * 22.5), exact(3), heatTransferOf(undefined, [])) // 0.833333 ± 1e-6
 * @example staysCoolProbability(exact(0.02 * 22.5), exact(3), { wPerM2K: exact(7), assumed: false }) // 1 ± 0
 */
export function staysCoolProbability(gives: Figure, heat: Figure, heatTransfer: HeatTransfer): number {
  if (!heatTransfer.assumed) {
    const margin = sum(product(heatTransfer.wPerM2K, gives), scaled(heat, -1))
    return conformityProbability(margin.value, standardUncertainty(margin), 0, Number.POSITIVE_INFINITY)
  }
  const ofGives = standardUncertainty(gives) ** 2
  const ofHeat = standardUncertainty(heat) ** 2
  const common = (standardUncertainty(sum(gives, heat)) ** 2 - ofGives - ofHeat) / 2
  const { min, max } = STILL_AIR
  // Without uncertainty, the score is the margin in a unit so small that only its sign matters; the range in which the sign changes is split.
  const minU = SMALLEST_SHARE * (max * Math.abs(gives.value) + Math.abs(heat.value))
  const scoreAt = (h: number): Score => {
    const margin = h * gives.value - heat.value
    const u = Math.max(minU, Math.sqrt(Math.max(0, h * h * ofGives - 2 * h * common + ofHeat)))
    const z = u === 0 ? SURE : margin / u
    const cdf = normalCdf(z)
    return { h, z, cdf, integral: z * cdf + Math.exp((-z * z) / 2) / Math.sqrt(2 * Math.PI) }
  }
  return Math.max(0, Math.min(1, meanCdf(scoreAt(min), scoreAt(max), scoreAt, 1)))
}

/** Margin over its standard uncertainty at an h, with Φ and its integral z·Φ(z) + φ(z) there. */
interface Score {
  readonly h: number
  readonly z: number
  readonly cdf: number
  readonly integral: number
}

/** Maximum error of a probability from the curvature of a score, and minimum share of the range that is still split. */
const BEND_ERROR = 1e-5
const SMALLEST_PART = 1e-4

/** Mean of Φ over a part of the range of h, which is `share` of it; split in two if the score is not linear there. */
function meanCdf(from: Score, to: Score, scoreAt: (h: number) => Score, share: number): number {
  if (Math.min(from.z, to.z) > SURE) return 1
  if (Math.max(from.z, to.z) < -SURE) return 0
  const middle = scoreAt((from.h + to.h) / 2)
  const width = to.z - from.z
  // For nearly equal scores, the difference quotient would lose its digits.
  if (Math.abs(width) < 1e-3) return middle.cdf
  const bend = middle.z - (from.z + to.z) / 2
  if (share > SMALLEST_PART && Math.abs(bend) * share > BEND_ERROR * Math.abs(width)) {
    return (meanCdf(from, middle, scoreAt, share / 2) + meanCdf(middle, to, scoreAt, share / 2)) / 2
  }
  return (to.integral - from.integral) / width
}

/** Score beyond which the tail of a normal distribution is negligible. */
const SURE = 9

/** Share of a margin's terms below which its uncertainty does not affect a probability. */
const SMALLEST_SHARE = 1e-9

/** Tolerance for the ends of a range, far below any measurement [K], and maximum number of steps. */
const SEARCHED_TO_K = 1e-6
const MAX_STEPS = 200

/** 95 % range of a temperature; its estimate need not be in the middle. */
export interface TemperatureRange {
  readonly minK: number
  readonly maxK: number
  /** The longer side: estimate ± this covers the range. */
  readonly plusMinusK: number
}

/**
 * Range of the temperature of a body that transfers its heat.
 *
 *     P(T ≤ T_min) = Φ(−2),  P(T ≤ T_max) = Φ(2);  P(T ≤ t) from `staysCoolProbability` at t
 *
 * T depends on 1/h: the hot side of the range is the longer one. Φ is the normal distribution function; its argument is the coverage factor.
 *
 * @param estimateK - T, with its uncertainty to the first order. [K]
 * @param probabilityAt - P(T ≤ t), growing with t. [K]
 * @param ends - A lower bound of T, and the upper end of the search. [K]
 * @returns Range [K]; its upper end is the end of the search if the range extends beyond it
 * @see JCGM 100:2008, 6.3.3; JCGM 101:2008, 7.7 (intervals of an asymmetric distribution)
 * @example rangeOfTemperature(uncertain(5, 'h', 1), (t) => staysCoolProbability(exact(0.02 * t), exact(1), heatTransferOf(undefined, [])), { lowestK: 0, highestK: 1e6 }).maxK // 9.5648 ± 5e-4
 */
export function rangeOfTemperature(
  estimateK: Figure,
  probabilityAt: (temperatureK: number) => number,
  ends: { readonly lowestK: number; readonly highestK: number },
): TemperatureRange {
  const { lowestK, highestK } = ends
  if (standardUncertainty(estimateK) === 0) {
    return { minK: estimateK.value, maxK: estimateK.value, plusMinusK: 0 }
  }
  const at = (probability: number) => {
    const excess = (temperatureK: number) => probabilityAt(temperatureK) - probability
    let low = { k: lowestK, excess: excess(lowestK) }
    let high = low
    for (let step = 1; high.excess < 0; step *= 2) {
      low = high
      if (low.k >= highestK) return highestK
      const k = Math.min(highestK, low.k + step)
      high = { k, excess: excess(k) }
    }
    // Regula falsi, with a bisection every third step so that both ends converge.
    for (let i = 0; i < MAX_STEPS && high.k - low.k > SEARCHED_TO_K; i++) {
      const chordK = low.k - (low.excess * (high.k - low.k)) / (high.excess - low.excess)
      const k = i % 3 === 2 || !(chordK > low.k && chordK < high.k) ? (low.k + high.k) / 2 : chordK
      const found = { k, excess: excess(k) }
      if (found.excess < 0) low = found
      else high = found
    }
    return high.k
  }
  const minK = at(normalCdf(-COVERAGE_FACTOR))
  const maxK = at(normalCdf(COVERAGE_FACTOR))
  return { minK, maxK, plusMinusK: Math.max(estimateK.value - minK, maxK - estimateK.value) }
}
