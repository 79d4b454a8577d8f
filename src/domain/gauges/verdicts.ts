import { type DialLine, type Reading, readingOf, spreadAgainst } from '../drive-paths/path.js'
import { withPointer } from '../errors.js'
import { type ConformityResult, conformityResult, probabilityBeyond } from '../measure/conformity.js'
import { correlation } from '../measure/correlation.js'
import type { SourceId } from '../measure/sources.js'
import { standardUncertainty } from '../measure/uncertainty.js'
import { toSi } from '../measure/units.js'
import {
  type EndSpeeds,
  type IndicatedLimits,
  limitConstantMPerS,
  limitPerTrue,
  type ReadingAt,
  SAME_SPEED_M_PER_S,
  speedLimitsAt,
  trueTestSpeeds,
  turningSpeeds,
} from './limits.js'
import { RULES, type Rule, type RuleId } from './rules.js'

/** A rule to judge by: one of the table under its id, or the caller's under `custom`. */
export interface NamedRule {
  readonly id: string
  readonly rule: Rule
}

export interface Verdict {
  readonly rule: string
  readonly result: ConformityResult
  readonly probability: number
  readonly limits: IndicatedLimits
  readonly atMPerS: number
}

/** Lowest judged speed for rules that name none; common practice, no source. [m/s] */
const LOWEST_JUDGED_M_PER_S = toSi('speed', 'kmh', 10)

/** Highest judged speed where neither top speed nor last mark is known; common practice, no source. [m/s] */
const DEFAULT_TOP_M_PER_S = toSi('speed', 'kmh', 120)

const NO_SPEEDS: readonly number[] = []

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

/** A speed at which a rule is judged, with its limits there. */
interface JudgedSpeed {
  readonly trueMPerS: number
  readonly limits: IndicatedLimits
}

/** A rule on a dial and its vehicle, whatever the dial reads: one serves every reading that changes of the drive would give. */
export interface RuleFrame {
  readonly named: NamedRule
  readonly ends: EndSpeeds
  /** The speeds at which it is judged, ascending, where neither they nor the limits depend on the reading. */
  readonly speeds?: readonly JudgedSpeed[]
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

/** Probability that a reading keeps both limits. */
export const withinOf = ({ below, above }: Outside) => Math.max(0, 1 - below - above)

/** A reading compared with its limits. */
interface Judged {
  readonly reading: Reading
  readonly limits: IndicatedLimits
  readonly outside: Outside
  readonly probability: number
}

function judgedBy(rule: Rule, reading: Reading, limits: IndicatedLimits): Judged {
  const outside = outsideOf(rule, limits, reading)
  return { reading, limits, outside, probability: withinOf(outside) }
}

function judgedReading(rule: Rule, reading: Reading, ends: EndSpeeds): Judged | undefined {
  const limits = speedLimitsAt(rule, reading.trueMPerS, reading.indicatedMPerS, ends)
  return limits === undefined ? undefined : judgedBy(rule, reading, limits)
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
function judgedSpeeds(
  rule: Rule,
  turningMPerS: readonly number[],
  reading: ReadingAt,
  ends: EndSpeeds,
): readonly number[] {
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
  const within = turningMPerS.filter((turn) => turn > lowest && turn < highest)
  return [...speeds, ...within]
    .sort((a, b) => a - b)
    .filter(
      (trueMPerS, index, sorted) => index === 0 || trueMPerS - sorted[index - 1]! > SAME_SPEED_M_PER_S / 2,
    )
}

/** Whether the speeds at which a rule is judged, and its limits there, are the same for every dial. */
const isFixed = ({ speed, testSpeedsAre }: Rule) => speed?.kind !== 'full-scale' && testSpeedsAre === 'true'

const notRead: ReadingAt = () => {
  throw new RangeError('a rule that is the same for every dial was judged by a reading')
}

/**
 * What a rule asks of a dial, whatever the dial reads.
 *
 *     the judged speeds V and the limits L(V), U(V), where neither depends on the reading
 *
 * V is a true speed; L and U are the limits of the indicated speed there. A rule that starts at a mark of the dial, or is tested at indicated speeds, has other speeds for every reading.
 *
 * @param named - Rule under its id
 * @param ends - Last mark of the dial and top speed. [m/s]
 * @returns The rule with its speeds; without them where they depend on the reading
 * @see derived, from the rules themselves
 * @example ruleFrame(tableRule('us-49-cfr-393-82'), {}).speeds[0].limits.upperMPerS / 0.44704 // 55 ± 1e-9
 * @example ruleFrame(tableRule('au-adr-18-03'), {}).speeds ?? 'depend on the reading' // "depend on the reading"
 */
export function ruleFrame(named: NamedRule, ends: EndSpeeds): RuleFrame {
  const { rule } = named
  if (!isFixed(rule)) return { named, ends }
  const speeds: JudgedSpeed[] = []
  for (const trueMPerS of judgedSpeeds(rule, NO_SPEEDS, notRead, ends)) {
    const limits = speedLimitsAt(rule, trueMPerS, trueMPerS, ends)
    if (limits !== undefined) speeds.push({ trueMPerS, limits })
  }
  return { named, ends, speeds }
}

/**
 * Extrema of the distance between reading and limit in units of the uncertainty of the reading: between and beyond them the probability
 * that the limit is broken is monotone.
 *
 *     z = (α·V + β)/√(A·V² + 2·B·V + C),  dz/dV = 0:  V = (β·B − α·C)/(α·B − β·A)
 *
 * α and β are slope and offset of the dial less those of the limit, A and C the variances of slope and offset, B their covariance.
 */
function turningPoints(
  rule: Rule,
  { indicatedPerTrue, offsetMPerS }: DialLine,
  ends: EndSpeeds,
): readonly number[] {
  const uOffset = standardUncertainty(offsetMPerS)
  if (uOffset === 0) return NO_SPEEDS
  const uSlope = standardUncertainty(indicatedPerTrue)
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
  return worstVerdictIn(ruleFrame(named, ends), line)
}

/** `worstSpeedVerdict`, for a rule whose frame is known. */
export const worstVerdictIn = (frame: RuleFrame, line: DialLine): Verdict | undefined => {
  const { named, ends } = frame
  const { rule } = named
  const judged = judgedReadings(frame, line)
  if (rule.speed?.kind !== 'points') {
    const reading = readingOf(line)
    const probabilityAt = (trueMPerS: number) =>
      judgedReading(rule, reading(trueMPerS), ends)?.probability ?? 1
    const count = judged.length
    for (let index = 1; index < count; index++) {
      const [from, to] = [judged[index - 1]!, judged[index]!]
      if (isLowestAtEnd(from, to)) continue
      const lowestMPerS = lowestBetween(from.reading.trueMPerS, to.reading.trueMPerS, probabilityAt)
      const lowest = judgedReading(rule, reading(lowestMPerS), ends)
      if (lowest !== undefined) judged.push(lowest)
    }
    if (judged.length > count) judged.sort((a, b) => a.reading.trueMPerS - b.reading.trueMPerS)
  }
  const worst = worstOf(judged)
  return worst === undefined ? undefined : verdictOf(named, worst)
}

/** The readings of a dial at the speeds at which a rule is judged, ascending. */
function judgedReadings({ named: { rule }, ends, speeds }: RuleFrame, line: DialLine): Judged[] {
  const reading = readingOf(line)
  const turningMPerS = turningPoints(rule, line, ends)
  if (speeds !== undefined && turningMPerS.length === 0)
    return speeds.map(({ trueMPerS, limits }) => judgedBy(rule, reading(trueMPerS), limits))
  return judgedSpeeds(rule, turningMPerS, reading, ends).flatMap(
    (trueMPerS) => judgedReading(rule, reading(trueMPerS), ends) ?? [],
  )
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

/** Verdicts of every rule that applies at one speed. */
export const speedVerdicts = (rules: readonly NamedRule[], reading: Reading, ends: EndSpeeds): Verdict[] =>
  withPointer('/head', () => rules.flatMap((rule) => speedVerdict(rule, reading, ends) ?? []))

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
