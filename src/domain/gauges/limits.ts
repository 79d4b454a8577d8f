import type { Reading } from '../drive-paths/path.js'
import { DomainError } from '../errors.js'
import type { Rule } from './rules.js'

/** Limits of the indicated speed at one true speed; absent: no limit on that side. */
export interface IndicatedLimits {
  readonly lowerMPerS?: number
  readonly upperMPerS?: number
}

export type ReadingAt = (trueMPerS: number) => Reading

/** Speeds of dial and vehicle on which limits depend; absent: not known. [m/s] */
export interface EndSpeeds {
  /** Last mark of the dial; needed by full-scale rules. */
  readonly dialMaxMPerS?: number | undefined
  /** Top speed of the vehicle. */
  readonly topSpeedMPerS?: number | undefined
}

/** Speeds that differ by less than this count as the same test speed. [m/s] */
export const SAME_SPEED_M_PER_S = 1e-6

/**
 * Limits of a rule on the indicated speed at one true speed.
 *
 *     lower = V + (p_L/100)·V + c_L      upper = V + (p_U/100)·V + c_U      (band, V the true speed)
 *     upper of an approval rule: from the lowest to the highest test speed
 *     upper = V + s·V_max from the mark min(V_max/3, 50 km/h) on; lower = V from 20 km/h on      (full scale, s = 7 %)
 *
 * p_L, p_U [%] and c_L, c_U [m/s] are the share and the constant of the lower and of the upper bound.
 *
 * @param rule - Rule
 * @param trueMPerS - True speed V. [m/s, >= 0]
 * @param indicatedMPerS - What the dial shows there: some rules start at a mark of the dial. [m/s]
 * @param ends - Last mark of the dial, V_max, and top speed. [m/s]
 * @returns Limits of the indicated speed [m/s], or undefined where the rule does not apply
 * @throws {DomainError} `rule-needs-dial-max`
 * @see UN R39 5.3; 75/443/EEC Annex II 4.4; StVZO 57 (old wording); 49 CFR 393.82; TM 9-1829A
 * @example speedLimitsAt(RULES['un-r39'], 120 / 3.6, 120 / 3.6).upperMPerS * 3.6 // 136 ± 1e-9
 * @example speedLimitsAt(RULES['de-before-1991'], 100 / 3.6, 100 / 3.6, { dialMaxMPerS: 200 / 3.6 }).upperMPerS * 3.6 // 114 ± 1e-9
 */
export function speedLimitsAt(
  rule: Rule,
  trueMPerS: number,
  indicatedMPerS: number,
  ends: EndSpeeds = {},
): IndicatedLimits | undefined {
  const { speed: limits } = rule
  const { dialMaxMPerS } = ends
  if (limits === undefined) return undefined
  switch (limits.kind) {
    case 'points':
      return limits.points.find((point) => Math.abs(point.trueMPerS - trueMPerS) < SAME_SPEED_M_PER_S)
    case 'band': {
      const { fromMPerS = 0, toMPerS = Number.POSITIVE_INFINITY, above = false } = limits
      if (trueMPerS < fromMPerS - SAME_SPEED_M_PER_S || trueMPerS > toMPerS + SAME_SPEED_M_PER_S)
        return undefined
      if (above && trueMPerS <= fromMPerS + SAME_SPEED_M_PER_S) return undefined
      const out: { lowerMPerS?: number; upperMPerS?: number } = {}
      const { lower, upper, upperAtTestSpeeds = false } = limits
      if (lower !== undefined)
        out.lowerMPerS = trueMPerS * (1 + lower.percentOfTrue / 100) + lower.constantMPerS
      const speedMPerS = rule.testSpeedsAre === 'true' ? trueMPerS : indicatedMPerS
      if (upper !== undefined && (!upperAtTestSpeeds || isAmongTestSpeeds(rule, speedMPerS, ends)))
        out.upperMPerS = trueMPerS * (1 + upper.percentOfTrue / 100) + upper.constantMPerS
      return out
    }
    case 'full-scale': {
      if (dialMaxMPerS === undefined) {
        throw new DomainError(
          'rule-needs-dial-max',
          'The limits of this rule are a percentage of full scale: give dialMax, the last mark of the dial.',
          { pointer: '/dialMax' },
        )
      }
      const out: { lowerMPerS?: number; upperMPerS?: number } = {}
      const markMPerS = Math.min(limits.fromShareOfScale * dialMaxMPerS, limits.fromMarkMPerS)
      if (trueMPerS >= limits.neverUnderFromMPerS - SAME_SPEED_M_PER_S) out.lowerMPerS = trueMPerS
      if (Math.max(trueMPerS, indicatedMPerS) >= markMPerS - SAME_SPEED_M_PER_S) {
        out.lowerMPerS = trueMPerS
        out.upperMPerS = trueMPerS + limits.upperShareOfScale * dialMaxMPerS
      }
      return out.lowerMPerS === undefined && out.upperMPerS === undefined ? undefined : out
    }
  }
}

/** Cache of the test speeds for the last vehicle: each of its readings needs the same ones. */
const TESTED = new WeakMap<Rule, { topSpeedMPerS: number | undefined; speeds: readonly number[] }>()

function knownTestSpeeds(rule: Rule, topSpeedMPerS: number | undefined): readonly number[] {
  const known = TESTED.get(rule)
  if (known !== undefined && known.topSpeedMPerS === topSpeedMPerS) return known.speeds
  const speeds = testSpeeds(rule, topSpeedMPerS)
  TESTED.set(rule, { topSpeedMPerS, speeds })
  return speeds
}

/** Whether a speed lies between the lowest and the highest test speed of a rule, ends included. */
function isAmongTestSpeeds(rule: Rule, speedMPerS: number, { topSpeedMPerS }: EndSpeeds): boolean {
  const tested = knownTestSpeeds(rule, topSpeedMPerS)
  return (
    tested.length > 0 &&
    speedMPerS >= tested[0]! - SAME_SPEED_M_PER_S &&
    speedMPerS <= tested.at(-1)! + SAME_SPEED_M_PER_S
  )
}

type Side = 'lower' | 'upper'

/** Slope of a limit against the true speed: 1 where the rule limits the error by a constant speed. */
export const limitPerTrue = ({ speed }: Rule, side: Side): number =>
  speed?.kind === 'band' ? 1 + (speed[side]?.percentOfTrue ?? 0) / 100 : 1

/**
 * Nominal test speeds of a rule for a vehicle.
 *
 *     80 % of the top speed replaces the highest one where the top speed is below 150 km/h
 *
 * @param rule - Rule
 * @param topSpeedMPerS - Top speed of the vehicle. [m/s]; unknown: the nominal speeds
 * @returns Test speeds [m/s], ascending; none above the top speed
 * @see 75/443/EEC, Annex II, 4.4
 * @example testSpeeds(RULES['eec-75-443'], 100 / 3.6).map((v) => Math.round(v * 3.6)) // [40,80]
 * @example testSpeeds(RULES['eec-75-443'], 140 / 3.6).map((v) => Math.round(v * 3.6)) // [40,80,112]
 */
export function testSpeeds(rule: Rule, topSpeedMPerS?: number): number[] {
  const speeds = [...rule.testSpeedsMPerS]
  if (topSpeedMPerS === undefined) return speeds
  if (rule.reducedBelowTopSpeedMPerS !== undefined && topSpeedMPerS < rule.reducedBelowTopSpeedMPerS) {
    speeds.pop()
    speeds.push(0.8 * topSpeedMPerS)
  }
  return speeds
    .filter((speed) => speed <= topSpeedMPerS)
    .sort((a, b) => a - b)
    .filter((speed, index, sorted) => index === 0 || speed - sorted[index - 1]! > SAME_SPEED_M_PER_S)
}

/**
 * Breakpoints of a rule: true speeds at which its limits begin, end or change slope.
 *
 *     band: its ends, the lowest and the highest test speed where the upper bound holds only there
 *     full scale: 20 km/h, the mark m = min(V_max/3, 50 km/h), and the true speed at which the dial shows m
 *
 * @param rule - Rule
 * @param reading - What the dial shows at a true speed: some rules start at a mark of the dial
 * @param ends - Last mark of the dial and top speed. [m/s]
 * @returns True speeds [m/s], each above zero, unordered; none for a rule without breakpoints
 * @see derived, from the rules themselves
 * @example turningSpeeds(RULES['de-before-1991'], readingOf({ indicatedPerTrue: exact(1.25), offsetMPerS: exact(0) }), { dialMaxMPerS: 200 / 3.6 }).map((v) => Math.round(v * 3.6)) // [20,50,40]
 */
export function turningSpeeds(rule: Rule, reading: ReadingAt, ends: EndSpeeds = {}): number[] {
  const { speed } = rule
  if (speed?.kind === 'band') {
    const tested = speed.upperAtTestSpeeds === true ? trueTestSpeeds(rule, reading, ends) : []
    return [
      speed.fromMPerS ?? 0,
      speed.toMPerS ?? 0,
      ...tested.slice(0, 1),
      ...tested.slice(1).slice(-1),
    ].filter((turnMPerS) => turnMPerS > 0)
  }
  const { dialMaxMPerS } = ends
  if (speed?.kind !== 'full-scale') return []
  if (dialMaxMPerS === undefined) return [speed.neverUnderFromMPerS]
  const markMPerS = Math.min(speed.fromShareOfScale * dialMaxMPerS, speed.fromMarkMPerS)
  return [speed.neverUnderFromMPerS, markMPerS, ...trueWhenIndicated(reading, markMPerS)]
}

/** Test speeds of a rule as true speeds. */
export const trueTestSpeeds = (
  rule: Rule,
  reading: ReadingAt,
  { topSpeedMPerS }: EndSpeeds,
): readonly number[] => {
  const tested = knownTestSpeeds(rule, topSpeedMPerS)
  return rule.testSpeedsAre === 'true' ? tested : tested.flatMap((speed) => trueWhenIndicated(reading, speed))
}

/** The constant part of a limit over a range of speeds; absent: no limit on that side. [m/s] */
export const limitConstantMPerS = (
  { speed }: Rule,
  side: Side,
  { dialMaxMPerS = 0 }: EndSpeeds,
): number | undefined => {
  if (speed?.kind === 'band') return speed[side]?.constantMPerS
  if (speed?.kind !== 'full-scale') return undefined
  return side === 'lower' ? 0 : speed.upperShareOfScale * dialMaxMPerS
}

/** True speed at which a straight-line dial shows a speed; none where the slope is zero or negative. */
function trueWhenIndicated(reading: ReadingAt, indicatedMPerS: number): number[] {
  // Slope taken at high speed: near standstill the pointer of a head that under-reads rests on its stop.
  const lowMPerS = 10 * indicatedMPerS
  const low = reading(lowMPerS).indicatedMPerS
  const slope = (reading(2 * lowMPerS).indicatedMPerS - low) / lowMPerS
  if (!(slope > 0)) return []
  const trueMPerS = lowMPerS + (indicatedMPerS - low) / slope
  return trueMPerS > 0 ? [trueMPerS] : []
}
