import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import type { Calibration } from './calibration.js'
import type { EndSpeeds } from './limits.js'
import { distanceNotes, RULES_CAUTION } from './rule-notes.js'
import type { RuleVerdict } from './rule-verdicts.js'
import { type NamedRule, worstSpeedVerdict } from './verdicts.js'

/** Readings at the ends of the range count as covering it, to rounding. [m/s] */
const SAME_SPEED_M_PER_S = 1e-9

const notJudged = (id: string): Note =>
  infoNote('rule-not-judged', `${id} sets no limit at any speed of this vehicle.`)

const beyondReadings = (id: string): Note =>
  cautionNote(
    'verdict-beyond-readings',
    `${id} is judged at a speed outside the readings, on the extrapolated line: take readings there before relying on it.`,
  )

/**
 * Verdicts on a calibrated dial, each at the worst speed of its rule.
 *
 *     by `worstSpeedVerdict` on the line of the calibration
 *
 * @param calibration - The calibration
 * @param rules - Rules under their ids
 * @param ends - Last mark of the dial and top speed. [m/s]
 * @returns A verdict for each rule that limits the speed, and notes: rules that do not, verdicts on the extrapolated line
 * @throws {DomainError} `rule-needs-dial-max`
 * @see JCGM 106:2012, 7.4
 * @example calibrationVerdicts(calibrate('proportional', [10, 20, 30].map((v) => ({ indicatedMPerS: uncertain(1.05 * v, 'y', 0.1), trueMPerS: uncertain(v, 'x', 0.1) }))), [tableRule('un-r39')], {}).verdicts[0].result // "conforms"
 */
export function calibrationVerdicts(
  calibration: Calibration,
  rules: readonly NamedRule[],
  ends: EndSpeeds,
): { readonly verdicts: RuleVerdict[]; readonly notes: Note[] } {
  const { scale, offsetMPerS, lowestTrueMPerS: low, highestTrueMPerS: high } = calibration
  const line = { indicatedPerTrue: scale, offsetMPerS }
  const verdicts: RuleVerdict[] = []
  const notes: Note[] = []
  for (const rule of rules) {
    const verdict = worstSpeedVerdict(rule, line, ends)
    if (verdict === undefined) {
      if (rule.rule.speed !== undefined) notes.push(notJudged(rule.id))
      continue
    }
    verdicts.push(verdict)
    if (verdict.atMPerS < low - SAME_SPEED_M_PER_S || verdict.atMPerS > high + SAME_SPEED_M_PER_S)
      notes.push(beyondReadings(rule.id))
  }
  if (rules.length > 0) notes.push(...distanceNotes(rules), RULES_CAUTION)
  return { verdicts, notes }
}
