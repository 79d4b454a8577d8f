import type { DialLine } from '../drive-paths/path.js'
import { withPointer } from '../errors.js'
import { type ConformityResult, conformityResult, probabilityBeyond } from '../measure/conformity.js'
import type { Figure } from '../measure/figure.js'
import { spreadOf } from '../measure/uncertainty.js'
import type { Mutable } from '../mutable.js'
import type { EndSpeeds, IndicatedLimits } from './limits.js'
import type { Rule } from './rules.js'
import {
  type NamedRule,
  type RuleFrame,
  ruleFrame,
  type Verdict,
  withinOf,
  worstVerdictIn,
} from './verdicts.js'

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

/** Slope and offset of a dial, and odometer ÷ true distance if known. */
type OdometerLine = DialLine & { readonly odometerPerTrue?: Figure | undefined }

const NO_LIMITS: IndicatedLimits = {}

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
  line: OdometerLine,
  ends: EndSpeeds = {},
): RuleVerdict | undefined {
  return ruleVerdictIn(ruleFrame(named, ends), line)
}

/** `ruleVerdict`, for a rule whose frame is known. */
export const ruleVerdictIn = (frame: RuleFrame, line: OdometerLine): RuleVerdict | undefined => {
  const { id, rule } = frame.named
  const speed = worstVerdictIn(frame, line)
  const distance = line.odometerPerTrue === undefined ? undefined : judgedDistance(rule, line.odometerPerTrue)
  const isOfSpeed =
    distance === undefined || (speed !== undefined && speed.probability <= distance.probability)
  const decided = isOfSpeed ? speed : distance
  if (decided === undefined) return undefined
  const { result, probability } = decided
  const limits = isOfSpeed ? speed!.limits : NO_LIMITS
  const verdict: Mutable<RuleVerdict> = { rule: id, result, probability, limits }
  if (isOfSpeed) verdict.atMPerS = speed!.atMPerS
  if (speed !== undefined) verdict.speed = speed
  if (distance !== undefined) verdict.distance = distance
  return verdict
}

/** Verdicts of every rule over all its speeds, and on the odometer if its error is known. */
export const ruleVerdicts = (
  rules: readonly NamedRule[],
  line: OdometerLine,
  ends: EndSpeeds,
): RuleVerdict[] => withPointer('/head', () => rules.flatMap((rule) => ruleVerdict(rule, line, ends) ?? []))
