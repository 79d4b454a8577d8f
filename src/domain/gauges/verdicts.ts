import { DomainError } from '../errors.js'
import { type ConformityResult, conformityProbability, conformityResult } from '../measure/conformity.js'
import type { SourceId } from '../measure/sources.js'
import { RULES, type Rule, type RuleId } from './rules.js'

/** A rule to judge by: one of the table under its id, or the caller's under `custom`. */
export interface NamedRule {
  readonly id: string
  readonly rule: Rule
}

/** What a dial may show at one true speed; absent: no limit on that side. */
export interface IndicatedLimits {
  readonly lowerMPerS?: number
  readonly upperMPerS?: number
}

export interface Verdict {
  readonly rule: string
  readonly result: ConformityResult
  readonly probability: number
  readonly limits: IndicatedLimits
  readonly atMPerS: number
}

/** What a dial shows at a true speed, with its standard uncertainty. */
export type Reading = (trueMPerS: number) => { readonly indicatedMPerS: number; readonly u: number }

/** Speeds of dial and vehicle on which limits hang; absent: not known. [m/s] */
export interface EndSpeeds {
  /** Last mark of the dial; needed by full-scale rules. */
  readonly dialMaxMPerS?: number | undefined
  /** Top speed of the vehicle. */
  readonly topSpeedMPerS?: number | undefined
}

/** Speeds that differ by less than this are the same test speed. [m/s] */
const SAME_SPEED_M_PER_S = 1e-6

/**
 * A rule of the table, by its id.
 *
 * @param id - Id in `RULES`
 * @returns The rule under its id
 * @see docs/sources.md (each rule names its source)
 * @example tableRule('un-r39').rule.testSpeedsMPerS.length // 3 ± 0
 */
export function tableRule(id: RuleId): NamedRule {
  return { id, rule: RULES[id] }
}

/**
 * What a rule lets a dial show at one true speed.
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
 * @returns Limits of the indicated speed [m/s], or undefined where the rule says nothing
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
          'This rule is a share of full scale: give dialMax, the last mark of the dial.',
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

/** Test speeds of rules for the vehicle that was asked about last: each of its readings asks for the same ones. */
const TESTED = new WeakMap<Rule, { topSpeedMPerS: number | undefined; speeds: readonly number[] }>()

function knownTestSpeeds(rule: Rule, topSpeedMPerS: number | undefined): readonly number[] {
  const known = TESTED.get(rule)
  if (known !== undefined && known.topSpeedMPerS === topSpeedMPerS) return known.speeds
  const speeds = testSpeeds(rule, topSpeedMPerS)
  TESTED.set(rule, { topSpeedMPerS, speeds })
  return speeds
}

/** Whether a speed lies from the lowest to the highest test speed of a rule. */
function isAmongTestSpeeds(rule: Rule, speedMPerS: number, { topSpeedMPerS }: EndSpeeds): boolean {
  const tested = knownTestSpeeds(rule, topSpeedMPerS)
  return (
    tested.length > 0 &&
    speedMPerS >= tested[0]! - SAME_SPEED_M_PER_S &&
    speedMPerS <= tested.at(-1)! + SAME_SPEED_M_PER_S
  )
}

/**
 * Verdict of one rule on one reading.
 *
 *     p = Φ((U − y)/u) − Φ((L − y)/u), y the indicated speed, L and U its limits at the true speed
 *
 * @param named - Rule under its id
 * @param trueMPerS - True speed. [m/s]
 * @param indicatedMPerS - What the dial shows. [m/s]
 * @param u - Standard uncertainty of the indicated speed. [m/s]
 * @param ends - Last mark of the dial and top speed. [m/s]
 * @returns The verdict, or undefined where the rule says nothing at that speed
 * @throws {DomainError} `rule-needs-dial-max`
 * @see JCGM 106:2012, 7.4
 * @example speedVerdict(tableRule('un-r39'), 80 / 3.6, 93 / 3.6, 0).result // "does-not-conform"
 */
export function speedVerdict(
  named: NamedRule,
  trueMPerS: number,
  indicatedMPerS: number,
  u: number,
  ends: EndSpeeds = {},
): Verdict | undefined {
  const limits = speedLimitsAt(named.rule, trueMPerS, indicatedMPerS, ends)
  if (limits === undefined) return undefined
  const probability = conformityProbability(
    indicatedMPerS,
    u,
    limits.lowerMPerS ?? Number.NEGATIVE_INFINITY,
    limits.upperMPerS ?? Number.POSITIVE_INFINITY,
  )
  return { rule: named.id, result: conformityResult(probability), probability, limits, atMPerS: trueMPerS }
}

/**
 * Nominal test speeds of a rule for a vehicle.
 *
 *     80 % of the top speed in place of the highest one where the top speed is below 150 km/h
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
 * True speeds at which the limits of a rule begin, end or bend.
 *
 *     band: its ends, the lowest and the highest test speed where the upper bound holds only there
 *     full scale: 20 km/h, the mark m = min(V_max/3, 50 km/h), and the true speed at which the dial shows m
 *
 * @param rule - Rule
 * @param reading - What the dial shows at a true speed: some rules start at a mark of the dial
 * @param ends - Last mark of the dial and top speed. [m/s]
 * @returns True speeds [m/s], each above zero, in no order; none for a rule that has no such speed
 * @see derived, from the rules themselves
 * @example turningSpeeds(RULES['de-before-1991'], (v) => ({ indicatedMPerS: 1.25 * v, u: 0 }), { dialMaxMPerS: 200 / 3.6 }).map((v) => Math.round(v * 3.6)) // [20,50,40]
 */
export function turningSpeeds(rule: Rule, reading: Reading, ends: EndSpeeds = {}): number[] {
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
function trueTestSpeeds(rule: Rule, reading: Reading, { topSpeedMPerS }: EndSpeeds): readonly number[] {
  const tested = knownTestSpeeds(rule, topSpeedMPerS)
  return rule.testSpeedsAre === 'true' ? tested : tested.flatMap((speed) => trueWhenIndicated(reading, speed))
}

/** True speeds at which a rule is judged whatever the caller asks for: its test speeds, and the others up to the top speed. */
function ownSpeeds(rule: Rule, reading: Reading, ends: EndSpeeds): number[] {
  const { topSpeedMPerS } = ends
  const own = trueTestSpeeds(rule, reading, ends)
  const { speed } = rule
  // A rule that holds above a speed is judged just above it.
  const past = speed?.kind === 'band' && speed.above === true ? 2 * SAME_SPEED_M_PER_S : 0
  const turning = turningSpeeds(rule, reading, ends).map((trueMPerS) => trueMPerS + past)
  if (topSpeedMPerS === undefined) return [...own, ...turning]
  return [...own, ...turning.filter((trueMPerS) => trueMPerS <= topSpeedMPerS), topSpeedMPerS]
}

/**
 * Verdict of a rule over a range of speeds: that of its worst speed.
 *
 *     p = min over the speeds of p(V); between equals, the speed at which the reading comes nearest to a limit,
 *     as a share of the speed, or lies farthest outside
 *
 * Judged are the test speeds of the rule, the speeds at which its limits begin, end or bend, the top speed, and those given: bounds and
 * reading are straight lines between these. The probability is that of the worst speed alone. Errors at different speeds come mostly
 * from one ratio, so they go together, and the worst speed decides.
 *
 * @param named - Rule under its id
 * @param reading - What the dial shows, and its standard uncertainty, at a true speed
 * @param speedsMPerS - True speeds to judge at beside the rule's own. [m/s]
 * @param ends - Last mark of the dial and top speed. [m/s]
 * @returns The verdict at the worst speed, or undefined when the rule holds at none of them
 * @throws {DomainError} `rule-needs-dial-max`
 * @see JCGM 106:2012, 7.4; each rule for its test speeds
 * @example worstSpeedVerdict(tableRule('un-r39'), (v) => ({ indicatedMPerS: v * 1.2, u: 0 }), []).atMPerS * 3.6 // 120 ± 1e-9
 * @example worstSpeedVerdict(tableRule('recording-in-use'), (v) => ({ indicatedMPerS: v * 1.05, u: 0 }), [10], { topSpeedMPerS: 36 }).atMPerS // 36 ± 0
 */
export function worstSpeedVerdict(
  named: NamedRule,
  reading: Reading,
  speedsMPerS: readonly number[],
  ends: EndSpeeds = {},
): Verdict | undefined {
  let worst: Verdict | undefined
  for (const trueMPerS of [...ownSpeeds(named.rule, reading, ends), ...speedsMPerS]) {
    const { indicatedMPerS, u } = reading(trueMPerS)
    const verdict = speedVerdict(named, trueMPerS, indicatedMPerS, u, ends)
    if (verdict === undefined) continue
    if (worst === undefined || isWorse(verdict, worst, reading)) worst = verdict
  }
  return worst
}

/** Lower probability is worse; between equals, what lies nearer to a limit for its speed or farther outside, by more than rounding. */
function isWorse(a: Verdict, b: Verdict, reading: Reading): boolean {
  if (a.probability !== b.probability) return a.probability < b.probability
  if (a.probability < 1) return inside(a, reading) < inside(b, reading) - SAME_SPEED_M_PER_S
  return inside(a, reading) / a.atMPerS < inside(b, reading) / b.atMPerS - SAME_SPEED_M_PER_S
}

/** How far a reading lies inside the nearest of its limits; below zero outside. [m/s] */
function inside({ limits, atMPerS }: Verdict, reading: Reading): number {
  const { indicatedMPerS } = reading(atMPerS)
  return Math.min(
    indicatedMPerS - (limits.lowerMPerS ?? Number.NEGATIVE_INFINITY),
    (limits.upperMPerS ?? Number.POSITIVE_INFINITY) - indicatedMPerS,
  )
}

/** True speed at which a straight-line dial shows a speed; none where the dial stands still or runs backward. */
function trueWhenIndicated(reading: Reading, indicatedMPerS: number): number[] {
  // Taken far up: near standstill the pointer of a head that reads low rests on its stop.
  const lowMPerS = 10 * indicatedMPerS
  const low = reading(lowMPerS).indicatedMPerS
  const slope = (reading(2 * lowMPerS).indicatedMPerS - low) / lowMPerS
  if (!(slope > 0)) return []
  const trueMPerS = lowMPerS + (indicatedMPerS - low) / slope
  return trueMPerS > 0 ? [trueMPerS] : []
}

export interface DistanceVerdict {
  readonly rule: string
  readonly result: ConformityResult
  readonly probability: number
  readonly limitFraction: number
}

/**
 * Verdict of a rule on the distance record.
 *
 *     p = Φ((a − e)/u) − Φ((−a − e)/u), e the error as a fraction, a the limit either way
 *
 * @param named - Rule under its id
 * @param errorFraction - e, recorded over true distance minus one
 * @param u - Standard uncertainty of e
 * @returns The verdict, or undefined for a rule that does not limit the distance record
 * @see JCGM 106:2012, 7.4; StVZO 57(3)
 * @example distanceVerdict(tableRule('de-odometer'), 0.05, 0).result // "does-not-conform"
 */
export function distanceVerdict(
  named: NamedRule,
  errorFraction: number,
  u: number,
): DistanceVerdict | undefined {
  const { distanceFraction } = named.rule
  if (distanceFraction === undefined) return undefined
  const probability = conformityProbability(errorFraction, u, -distanceFraction, distanceFraction)
  return {
    rule: named.id,
    result: conformityResult(probability),
    probability,
    limitFraction: distanceFraction,
  }
}

/**
 * Sources behind a set of rules.
 *
 * @param rules - Rules under their ids
 * @returns Source ids, with that of the verdict itself when there is any rule
 * @see docs/sources.md
 * @example ruleSources([tableRule('un-r39')]) // ["jcgm-106","un-r39"]
 */
export function ruleSources(rules: readonly NamedRule[]): SourceId[] {
  return rules.length === 0 ? [] : ['jcgm-106', ...rules.map(({ rule }) => rule.source)]
}
