import { type IndicatedLimits, speedLimitsAt } from '../gauges/limits.js'
import type { NamedRule } from '../gauges/verdicts.js'
import type { Figure } from '../measure/figure.js'
import { product, quotient } from '../measure/propagation.js'

/** A direction of rotation, seen along the shaft toward the head, from behind the drill. */
export type Sense = 'clockwise' | 'counterclockwise'

/** Lay of the outermost layer of wire: right-hand like an ordinary screw thread. */
export type Lay = 'left-hand' | 'right-hand'

/**
 * Rate at which to drive a head to show a speed.
 *
 *     n = k·v
 *
 * @param constantPerM - k, turns or pulses per distance at which the head reads correctly. [1/m]
 * @param speedMPerS - v, the mark of the dial; independent of `constantPerM`, with other input names. [m/s, >= 0]
 * @returns n with the uncertainties of both. [1/s]
 * @throws {DomainError} `not-finite`
 * @see US War Department TM 9-1829A (1944): 1000 turns a mile is 60 mph at 1000 rpm
 * @example benchRatePerS(exact(1000 / 1609.344), exact(60 * 0.44704)).value * 60 // 1000 ± 1e-9
 */
export function benchRatePerS(constantPerM: Figure, speedMPerS: Figure): Figure {
  return product(constantPerM, speedMPerS)
}

/**
 * Speed that a head shows at a drive rate.
 *
 *     v = n/k
 *
 * @param constantPerM - k. [1/m, > 0]
 * @param ratePerS - n, turns or pulses per second; independent of `constantPerM`, with other input names. [1/s, >= 0]
 * @returns v with the uncertainties of both. [m/s]
 * @throws {DomainError} `not-finite`
 * @see US War Department TM 9-1829A (1944)
 * @example benchSpeedMPerS(exact(1000 / 1609.344), exact(500 / 60)).value / 0.44704 // 30 ± 1e-9
 */
export function benchSpeedMPerS(constantPerM: Figure, ratePerS: Figure): Figure {
  return quotient(ratePerS, constantPerM)
}

/**
 * Direction of rotation in which a flexible shaft tightens under load, seen from behind the driven end.
 *
 *     driven end turned against the winding of the outermost layer: left-hand lay → clockwise, right-hand lay → counterclockwise
 *
 * A right-hand layer winds clockwise away from the eye. Turning the near end clockwise takes turns out of it: it unwinds, and the shaft whips and
 * breaks. In the other direction it closes on the layers below.
 *
 * @param lay - Lay of the outermost layer of wire
 * @returns The direction that tightens
 * @see US War Department TM 9-1829A (layers tighten in one direction of rotation only); geometry of a helix: derived
 * @example tighteningSense('left-hand') // "clockwise"
 */
export function tighteningSense(lay: Lay): Sense {
  return lay === 'left-hand' ? 'clockwise' : 'counterclockwise'
}

export interface BenchTolerance extends IndicatedLimits {
  readonly basis: 'rule' | 'between-points'
}

/**
 * Tolerance of a rule for a dial on the bench at one mark; between the points of a rule the errors are interpolated linearly.
 *
 *     lower(v) = v + e_i + (e_j − e_i)·(v − v_i)/(v_j − v_i), e the error allowed at the points on both sides; upper likewise
 *
 * v is the mark, v_i and v_j are the points of the rule on both sides of it.
 *
 * @param named - Rule with its id
 * @param speedMPerS - Mark of the dial, the true speed on the bench. [m/s]
 * @param dialMaxMPerS - Last mark of the dial. [m/s]
 * @returns Limits [m/s] and their basis, the rule itself or interpolation; undefined where the rule sets no limit
 * @throws {DomainError} `rule-needs-dial-max`
 * @see US War Department TM 9-1829A (1944): 9 to 11 at 10, 30 to 32 at 30, 60 to 63 at 60 mph
 * @example benchTolerance(tableRule('us-army-bench-1944'), 45 * 0.44704).upperMPerS / 0.44704 // 47.5 ± 1e-9
 */
export function benchTolerance(
  named: NamedRule,
  speedMPerS: number,
  dialMaxMPerS?: number,
): BenchTolerance | undefined {
  const { speed } = named.rule
  if (speed === undefined) return undefined
  const own = speedLimitsAt(named.rule, speedMPerS, speedMPerS, { dialMaxMPerS })
  if (own !== undefined) return { ...own, basis: 'rule' }
  if (speed.kind !== 'points') return undefined
  const below = speed.points.filter(({ trueMPerS }) => trueMPerS < speedMPerS).at(-1)
  const above = speed.points.find(({ trueMPerS }) => trueMPerS > speedMPerS)
  if (below === undefined || above === undefined) return undefined
  const share = (speedMPerS - below.trueMPerS) / (above.trueMPerS - below.trueMPerS)
  const between = (a: number, b: number) => speedMPerS + a + (b - a) * share
  return {
    lowerMPerS: between(below.lowerMPerS - below.trueMPerS, above.lowerMPerS - above.trueMPerS),
    upperMPerS: between(below.upperMPerS - below.trueMPerS, above.upperMPerS - above.trueMPerS),
    basis: 'between-points',
  }
}
