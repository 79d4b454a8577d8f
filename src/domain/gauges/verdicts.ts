import { type Reading, type Response, readingOf, spreadAgainst } from '../drive-paths/path.js'
import { DomainError, withPointer } from '../errors.js'
import { type ConformityResult, conformityResult, probabilityBeyond } from '../measure/conformity.js'
import { correlation, type Figure, spreadOf, standardUncertainty } from '../measure/figure.js'
import type { SourceId } from '../measure/sources.js'
import { toSi } from '../measure/units.js'
import { RULES, type Rule, type RuleId } from './rules.js'

/** A rule to judge by: one of the table under its id, or the caller's under `custom`. */
export interface NamedRule {
  readonly id: string
  readonly rule: Rule
}

/** Limits of the indicated speed at one true speed; absent: no limit on that side. */
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

/** Slope and offset of a dial. */
export type DialLine = Pick<Response, 'indicatedPerTrue' | 'offsetMPerS'>

type ReadingAt = (trueMPerS: number) => Reading

/** Speeds of dial and vehicle on which limits depend; absent: not known. [m/s] */
export interface EndSpeeds {
  /** Last mark of the dial; needed by full-scale rules. */
  readonly dialMaxMPerS?: number | undefined
  /** Top speed of the vehicle. */
  readonly topSpeedMPerS?: number | undefined
}

/** Speeds that differ by less than this count as the same test speed. [m/s] */
const SAME_SPEED_M_PER_S = 1e-6

/** Lowest judged speed for rules that name none; common practice, no source. [m/s] */
const LOWEST_JUDGED_M_PER_S = toSi('speed', 'kmh', 10)

/** Highest judged speed where neither top speed nor last mark is known; common practice, no source. [m/s] */
const DEFAULT_TOP_M_PER_S = toSi('speed', 'kmh', 120)

/** Probabilities that differ by less count as equal: rounding, including that of unit conversions. */
const SAME_PROBABILITY = 1e-9

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
function limitPerTrue({ speed }: Rule, side: Side): number {
  return speed?.kind === 'band' ? 1 + (speed[side]?.percentOfTrue ?? 0) / 100 : 1
}

/** Probabilities that a reading breaks a rule, on either side. */
interface Outside {
  readonly below: number
  readonly above: number
}

/** A dial shows nothing below zero: a negative lower limit cannot be broken, and a negative upper limit always is. */
function outsideOf(rule: Rule, { lowerMPerS, upperMPerS }: IndicatedLimits, reading: Reading): Outside {
  const { unstoppedMPerS: y } = reading
  let below = 0
  if (lowerMPerS !== undefined && lowerMPerS > 0) {
    const spread = spreadAgainst(reading, limitPerTrue(rule, 'lower'))
    below = probabilityBeyond('below', y - lowerMPerS, spread, y)
  }
  let above = 0
  if (upperMPerS !== undefined) {
    const spread = spreadAgainst(reading, limitPerTrue(rule, 'upper'))
    above = upperMPerS < 0 ? 1 : probabilityBeyond('above', upperMPerS - y, spread, y)
  }
  return { below, above }
}

const withinOf = ({ below, above }: Outside) => Math.max(0, 1 - below - above)

/** A reading compared with its limits. */
interface Judged {
  readonly reading: Reading
  readonly limits: IndicatedLimits
  readonly outside: Outside
  readonly probability: number
}

function judgedReading(rule: Rule, reading: Reading, ends: EndSpeeds): Judged | undefined {
  const limits = speedLimitsAt(rule, reading.trueMPerS, reading.indicatedMPerS, ends)
  if (limits === undefined) return undefined
  const outside = outsideOf(rule, limits, reading)
  return { reading, limits, outside, probability: withinOf(outside) }
}

const verdictOf = ({ id }: NamedRule, { reading, limits, probability }: Judged): Verdict => ({
  rule: id,
  result: conformityResult(probability),
  probability,
  limits,
  atMPerS: reading.trueMPerS,
})

/**
 * Verdict of one rule on one reading.
 *
 *     p = 1 − P(y − L(V) < 0) − P(U(V) − y < 0), y the indicated speed, L and U its limits at the true speed
 *
 * Reading and limit depend on the same true speed: with slope b of the dial and s of the limit, its standard uncertainty u_V contributes (b − s)·u_V.
 *
 * @param named - Rule under its id
 * @param reading - What the dial shows at a true speed
 * @param ends - Last mark of the dial and top speed. [m/s]
 * @returns The verdict, or undefined where the rule does not apply at that speed
 * @throws {DomainError} `rule-needs-dial-max`
 * @see JCGM 106:2012, 7.4; JCGM 100:2008, 5.2.2
 * @example speedVerdict(tableRule('un-r39'), readingOf({ indicatedPerTrue: exact(93 / 80), offsetMPerS: exact(0) })(80 / 3.6)).result // "does-not-conform"
 */
export function speedVerdict(named: NamedRule, reading: Reading, ends: EndSpeeds = {}): Verdict | undefined {
  const judged = judgedReading(named.rule, reading, ends)
  return judged === undefined ? undefined : verdictOf(named, judged)
}

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
function trueTestSpeeds(rule: Rule, reading: ReadingAt, { topSpeedMPerS }: EndSpeeds): readonly number[] {
  const tested = knownTestSpeeds(rule, topSpeedMPerS)
  return rule.testSpeedsAre === 'true' ? tested : tested.flatMap((speed) => trueWhenIndicated(reading, speed))
}

/**
 * Highest speed at which a dial is judged.
 *
 *     top speed, else last mark, else 120 km/h
 *
 * @param ends - Last mark of the dial and top speed. [m/s]
 * @returns True speed [m/s]
 * @see common practice, no source
 * @example topJudgedMPerS({}) * 3.6 // 120 ± 1e-9
 */
export function topJudgedMPerS(ends: EndSpeeds): number {
  return ends.topSpeedMPerS ?? ends.dialMaxMPerS ?? DEFAULT_TOP_M_PER_S
}

/**
 * Speeds at which a rule is judged for a dial: the lowest and the highest, the breakpoints between them, and the speeds at which the probability of
 * breaking one limit has an extremum. Speeds at which the rule does not apply are left out.
 *
 *     from the lowest speed that the rule names or 10 km/h to the highest test speed or the top, at most the top speed
 */
function judgedSpeeds(rule: Rule, line: DialLine, reading: ReadingAt, ends: EndSpeeds): number[] {
  const { speed } = rule
  if (speed === undefined) return []
  const { topSpeedMPerS = Number.POSITIVE_INFINITY } = ends
  const tested = trueTestSpeeds(rule, reading, ends)
  if (speed.kind === 'points') return tested.filter((trueMPerS) => trueMPerS <= topSpeedMPerS)
  // A rule that applies above a speed is judged just above it.
  const past = speed.kind === 'band' && speed.above === true ? 2 * SAME_SPEED_M_PER_S : 0
  const turning = turningSpeeds(rule, reading, ends).map((trueMPerS) => trueMPerS + past)
  const top = topJudgedMPerS(ends)
  const lowest = Math.min(LOWEST_JUDGED_M_PER_S, top)
  const speeds = [...tested, ...[...turning, lowest, top].filter((trueMPerS) => trueMPerS <= topSpeedMPerS)]
  const highest = Math.max(...speeds)
  const within = turningPoints(rule, line, ends).filter((turn) => turn > lowest && turn < highest)
  return [...speeds, ...within]
    .sort((a, b) => a - b)
    .filter(
      (trueMPerS, index, sorted) => index === 0 || trueMPerS - sorted[index - 1]! > SAME_SPEED_M_PER_S / 2,
    )
}

/** The constant part of a limit over a range of speeds; absent: no limit on that side. [m/s] */
function limitConstantMPerS(
  { speed }: Rule,
  side: Side,
  { dialMaxMPerS = 0 }: EndSpeeds,
): number | undefined {
  if (speed?.kind === 'band') return speed[side]?.constantMPerS
  if (speed?.kind !== 'full-scale') return undefined
  return side === 'lower' ? 0 : speed.upperShareOfScale * dialMaxMPerS
}

/**
 * Extrema of the distance between reading and limit in units of the uncertainty of the reading: between and beyond them the probability
 * that the limit is broken is monotone.
 *
 *     z = (α·V + β)/√(A·V² + 2·B·V + C),  dz/dV = 0:  V = (β·B − α·C)/(α·B − β·A)
 *
 * α and β are slope and offset of the dial less those of the limit, A and C the variances of slope and offset, B their covariance.
 */
function turningPoints(rule: Rule, { indicatedPerTrue, offsetMPerS }: DialLine, ends: EndSpeeds): number[] {
  const [uSlope, uOffset] = [standardUncertainty(indicatedPerTrue), standardUncertainty(offsetMPerS)]
  if (uOffset === 0) return []
  const covariance = correlation(indicatedPerTrue, offsetMPerS) * uSlope * uOffset
  return (['lower', 'upper'] as const).flatMap((side) => {
    const constantMPerS = limitConstantMPerS(rule, side, ends)
    if (constantMPerS === undefined) return []
    const slope = indicatedPerTrue.value - limitPerTrue(rule, side)
    const offset = offsetMPerS.value - constantMPerS
    const turn = (offset * covariance - slope * uOffset ** 2) / (slope * covariance - offset * uSlope ** 2)
    return Number.isFinite(turn) ? [turn] : []
  })
}

/** Subintervals of an interval between two speeds that are searched for a probability lower than at its ends. */
const PLACES = 8

/** Golden-section rounds for the minimum: down to a thousandth of two subintervals. */
const ROUNDS = 14

const GOLDEN = (Math.sqrt(5) - 1) / 2

/** Speed between two at which the probability is lowest. */
function lowestBetween(
  fromMPerS: number,
  toMPerS: number,
  probabilityAt: (trueMPerS: number) => number,
): number {
  const placeAt = (index: number) => fromMPerS + ((toMPerS - fromMPerS) * index) / PLACES
  const probabilities = Array.from({ length: PLACES + 1 }, (_, index) => probabilityAt(placeAt(index)))
  const place = probabilities.indexOf(Math.min(...probabilities))
  let [a, b] = [placeAt(Math.max(0, place - 1)), placeAt(Math.min(PLACES, place + 1))]
  for (let round = 0; round < ROUNDS; round++) {
    const near = b - GOLDEN * (b - a)
    const far = a + GOLDEN * (b - a)
    if (probabilityAt(near) <= probabilityAt(far)) b = far
    else a = near
  }
  return (a + b) / 2
}

/** Whether a probability is zero within rounding. */
const isNone = (probability: number) => probability <= SAME_PROBABILITY

/**
 * Whether the minimum of the probability of conformity lies at one of two neighboring speeds. The probability of breaking one limit is monotone between
 * them, so this holds where the other limit is never broken, where both probabilities change in the same direction, or where conformity is zero at one end.
 */
function isLowestAtEnd(from: Judged, to: Judged): boolean {
  if (isNone(from.probability) || isNone(to.probability)) return true
  const rise = (side: keyof Outside) => to.outside[side] - from.outside[side]
  const isNoneOn = (side: keyof Outside) => isNone(from.outside[side]) && isNone(to.outside[side])
  return isNoneOn('below') || isNoneOn('above') || rise('below') * rise('above') >= 0
}

/**
 * Verdict of a rule over all speeds at which it applies to a dial: that of the worst speed.
 *
 *     p = min of p(V) from the lowest to the highest speed of the rule; among equals, the speed at which the reading comes nearest to a
 *     limit, relative to the speed, or lies farthest outside
 *
 * The range starts where the rule does, else at 10 km/h, and ends at the top speed, else at the last mark of the dial, else at 120 km/h or
 * the highest test speed. The search covers its ends, the test speeds, the breakpoints, and between them the minima of the probability, to a thousandth
 * of the range. The result does not depend on the speeds that a caller requests. The probability is that of the worst speed alone: errors at
 * different speeds come mostly from one ratio, so they are strongly correlated, and the worst speed decides.
 *
 * @param named - Rule under its id
 * @param line - Slope and offset of the dial
 * @param ends - Last mark of the dial and top speed. [m/s]
 * @returns The verdict at the worst speed, or undefined when the rule applies at no speed of the vehicle
 * @throws {DomainError} `rule-needs-dial-max`
 * @see JCGM 106:2012, 7.4; each rule for its speeds; 10 and 120 km/h: common practice, no source
 * @example worstSpeedVerdict(tableRule('un-r39'), { indicatedPerTrue: exact(1.2), offsetMPerS: exact(0) }).atMPerS * 3.6 // 120 ± 1e-9
 * @example worstSpeedVerdict(tableRule('un-r39'), { indicatedPerTrue: exact(1.05), offsetMPerS: exact(-1.5 / 3.6) }).atMPerS * 3.6 // 10 ± 1e-9
 * @example worstSpeedVerdict(tableRule('recording-in-use'), { indicatedPerTrue: exact(1.05), offsetMPerS: exact(0) }, { topSpeedMPerS: 36 }).atMPerS // 36 ± 0
 */
export function worstSpeedVerdict(
  named: NamedRule,
  line: DialLine,
  ends: EndSpeeds = {},
): Verdict | undefined {
  const { rule } = named
  const reading = readingOf(line)
  const judgedAt = (trueMPerS: number) => judgedReading(rule, reading(trueMPerS), ends) ?? []
  const probabilityAt = (trueMPerS: number) => judgedReading(rule, reading(trueMPerS), ends)?.probability ?? 1
  const judged = judgedSpeeds(rule, line, reading, ends).flatMap(judgedAt)
  if (rule.speed?.kind !== 'points') {
    const between = judged.slice(1).flatMap((to, index) => {
      const from = judged[index]!
      if (isLowestAtEnd(from, to)) return []
      return judgedAt(lowestBetween(from.reading.trueMPerS, to.reading.trueMPerS, probabilityAt))
    })
    judged.push(...between)
    judged.sort((a, b) => a.reading.trueMPerS - b.reading.trueMPerS)
  }
  const worst = worstOf(judged)
  return worst === undefined ? undefined : verdictOf(named, worst)
}

/** The worst of readings at ascending speeds; among equals, the one that lies nearest to a limit or farthest outside, by more than rounding. */
function worstOf(judged: readonly Judged[]): Judged | undefined {
  let lowest = Number.POSITIVE_INFINITY
  for (const { probability } of judged) lowest = Math.min(lowest, probability + SAME_PROBABILITY)
  const nearness = (one: Judged) => inside(one) / (lowest < 1 ? 1 : one.reading.trueMPerS)
  let worst: Judged | undefined
  let nearest = Number.POSITIVE_INFINITY
  for (const one of judged) {
    if (one.probability > lowest) continue
    const near = nearness(one)
    if (worst === undefined || near < nearest - SAME_SPEED_M_PER_S) [worst, nearest] = [one, near]
  }
  return worst
}

/** How far a reading lies inside the nearest of its limits; below zero outside. [m/s] */
function inside({ limits, reading }: Judged): number {
  const { lowerMPerS = Number.NEGATIVE_INFINITY, upperMPerS = Number.POSITIVE_INFINITY } = limits
  return Math.min(reading.indicatedMPerS - lowerMPerS, upperMPerS - reading.indicatedMPerS)
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

/** What a rule says of the odometer. */
export interface DistanceJudgment {
  readonly result: ConformityResult
  readonly probability: number
  /** Maximum error of the odometer, either way [%]. */
  readonly limitPercent: number
}

export interface DistanceVerdict extends DistanceJudgment {
  readonly rule: string
}

function judgedDistance({ distanceFraction }: Rule, odometerPerTrue: Figure): DistanceJudgment | undefined {
  if (distanceFraction === undefined) return undefined
  const { value } = odometerPerTrue
  const spread = spreadOf(odometerPerTrue)
  const probability = withinOf({
    below: probabilityBeyond('below', value - (1 - distanceFraction), spread, value),
    above: probabilityBeyond('above', 1 + distanceFraction - value, spread, value),
  })
  return { result: conformityResult(probability), probability, limitPercent: distanceFraction * 100 }
}

/**
 * Verdict of a rule on the odometer.
 *
 *     p = 1 − P(e < −a) − P(e > a), e the error as a fraction, a the limit either way
 *
 * @param named - Rule under its id
 * @param odometerPerTrue - Odometer distance over true distance, e + 1
 * @returns The verdict, or undefined for a rule that does not limit the odometer
 * @see JCGM 106:2012, 7.4; StVZO 57(3)
 * @example distanceVerdict(tableRule('de-odometer'), exact(1.05)).result // "does-not-conform"
 */
export function distanceVerdict(named: NamedRule, odometerPerTrue: Figure): DistanceVerdict | undefined {
  const judged = judgedDistance(named.rule, odometerPerTrue)
  return judged === undefined ? undefined : { rule: named.id, ...judged }
}

/** Verdict of a rule on a dial and its odometer: the worse of the two. */
export interface RuleVerdict {
  readonly rule: string
  readonly result: ConformityResult
  readonly probability: number
  /** Of the indicated speed at `atMPerS`; none where the odometer decides. */
  readonly limits: IndicatedLimits
  readonly atMPerS?: number
  /** At the worst speed; absent: the rule does not limit the indicated speed at any speed of the vehicle. */
  readonly speed?: Verdict
  /** Absent: the rule does not limit the odometer, or the odometer error is not known. */
  readonly distance?: DistanceJudgment
}

/**
 * Verdict on everything that a rule limits: the indicated speed, at its worst speed, and the odometer.
 *
 *     p = min(p of the speed, p of the distance)
 *
 * Both errors come mostly from one ratio, so they are strongly correlated, and the worse one decides.
 *
 * @param named - Rule under its id
 * @param line - Slope and offset of the dial, and odometer ÷ true distance if known
 * @param ends - Last mark of the dial and top speed. [m/s]
 * @returns The verdict, or undefined where no limit of the rule applies to this dial
 * @throws {DomainError} `rule-needs-dial-max`
 * @see JCGM 106:2012, 7.4; AETR, Appendix 1, III.F (limits of speed and distance)
 * @example ruleVerdict(tableRule('recording-in-use'), { indicatedPerTrue: exact(1), offsetMPerS: exact(0), odometerPerTrue: exact(1.08) }).result // "does-not-conform"
 */
export function ruleVerdict(
  named: NamedRule,
  line: DialLine & { readonly odometerPerTrue?: Figure | undefined },
  ends: EndSpeeds = {},
): RuleVerdict | undefined {
  const speed = worstSpeedVerdict(named, line, ends)
  const distance =
    line.odometerPerTrue === undefined ? undefined : judgedDistance(named.rule, line.odometerPerTrue)
  if (distance === undefined) return speed === undefined ? undefined : { ...speed, speed }
  if (speed !== undefined && speed.probability <= distance.probability) return { ...speed, speed, distance }
  const { result, probability } = distance
  const decided = { rule: named.id, result, probability, limits: {}, distance }
  return speed === undefined ? decided : { ...decided, speed }
}

/** Verdicts of every rule that applies at one speed. */
export const speedVerdicts = (rules: readonly NamedRule[], reading: Reading, ends: EndSpeeds): Verdict[] =>
  withPointer('/head', () => rules.flatMap((rule) => speedVerdict(rule, reading, ends) ?? []))

/** Verdicts of every rule over all its speeds, and on the odometer if its error is known. */
export const ruleVerdicts = (
  rules: readonly NamedRule[],
  line: Parameters<typeof ruleVerdict>[1],
  ends: EndSpeeds,
): RuleVerdict[] => withPointer('/head', () => rules.flatMap((rule) => ruleVerdict(rule, line, ends) ?? []))

/**
 * Sources behind a set of rules.
 *
 * @param rules - Rules under their ids
 * @returns Source ids; with any rule, also the source of the decision rule
 * @see docs/sources.md
 * @example ruleSources([tableRule('un-r39')]) // ["jcgm-106","un-r39"]
 */
export function ruleSources(rules: readonly NamedRule[]): SourceId[] {
  return rules.length === 0 ? [] : ['jcgm-106', ...rules.map(({ rule }) => rule.source)]
}
