import { readingOf } from '../drive-paths/path.js'
import type { DistanceJudgment } from '../gauges/rule-verdicts.js'
import type { Verdict } from '../gauges/verdicts.js'
import { budget } from '../measure/budget.js'
import type { Figure } from '../measure/figure.js'
import { scaled, sum } from '../measure/propagation.js'
import { plusMinus } from '../measure/uncertainty.js'
import type { Mutable } from '../mutable.js'
import type { EvaluatedPath, Finding, Vehicle } from './vehicle.js'
import { percentText, probabilityText, speedText } from './words.js'

/** What to do while a dial under-reads or breaks a rule. */
export const DRIVE_BY_REFERENCE =
  'Drive by another speed reference (GPS, for example) until the reading is corrected.'

/** What to do about an odometer that was wrong for a time. */
export const RECORD_ERROR =
  'Record the error, and the odometer reading at which it began, in the vehicle papers; the law restricts changing the odometer itself.'

const CORRECT_ODOMETER =
  'Correct the odometer through its drive (gears, adapter or scaler), or through the constant of a head that takes pulses; spring and magnet do not affect it.'

const largestUncertainty = (figure: Figure) => budget(figure)[0]?.input

/** What the rule allows where it decides, and what the dial indicates there, in words. */
function caseText(title: string, { path, line }: EvaluatedPath, { atMPerS, limits }: Verdict): string {
  const shown = readingOf(line)(atMPerS).indicatedMPerS
  const { lowerMPerS, upperMPerS } = limits
  const compared = [atMPerS, shown, lowerMPerS ?? atMPerS, upperMPerS ?? atMPerS]
  const speed = (speedMPerS: number) => speedText(path.unit, speedMPerS, compared)
  const bounds = [
    lowerMPerS === undefined ? '' : `at least ${speed(lowerMPerS)}`,
    upperMPerS === undefined ? '' : `at most ${speed(upperMPerS)}`,
  ].filter((text) => text !== '')
  return `At a true speed of ${speed(atMPerS)} the ${path.name} indicates ${speed(shown)}; the rule allows ${bounds.join(' and ')} (${title}).`
}

function speedFinding(title: string, evaluated: EvaluatedPath, verdict: Verdict): Finding {
  const { index, line } = evaluated
  const pointer = `/paths/${index}`
  const text = caseText(title, evaluated, verdict)
  if (verdict.result === 'conforms') {
    return {
      code: 'rule-met',
      level: 'info',
      pointer,
      text: `${text} Probability of conformity at the worst speed: ${probabilityText(verdict.probability, 3)}.`,
    }
  }
  if (verdict.result === 'does-not-conform')
    return { code: 'rule-not-met', level: 'fail', pointer, text, remedy: DRIVE_BY_REFERENCE }
  // At the deciding speed: the weights of slope and offset depend on the speed.
  const uncertainty = largestUncertainty(
    sum(scaled(line.indicatedPerTrue, verdict.atMPerS), line.offsetMPerS),
  )
  return {
    code: 'rule-not-proven',
    level: 'caution',
    pointer,
    text: `${text} Conformity is not proven: allowing for the uncertainty, its probability is ${probabilityText(verdict.probability, 2)}.`,
    remedy:
      uncertainty === undefined
        ? 'Calibrate the dial on the road.'
        : `Most of the uncertainty comes from "${uncertainty}": measure it more closely (for a tire, roll the car and measure the distance), or calibrate the dial on the road.`,
  }
}

function odometerFinding(
  title: string,
  { path, index, line }: EvaluatedPath,
  distance: DistanceJudgment,
  isInputErrorLikely: boolean,
): Finding {
  const { odometerPerTrue } = line
  const certain = distance.result === 'does-not-conform'
  const error = odometerPerTrue.value - 1
  const allowed = distance.limitPercent / 100
  const compared = [Math.abs(error), allowed]
  const finding: Mutable<Finding> = {
    code: certain ? 'odometer-rule-not-met' : 'odometer-rule-not-proven',
    level: certain ? 'fail' : 'caution',
    pointer: `/paths/${index}`,
    text: `${path.name}: the odometer ${error < 0 ? 'under-reads' : 'over-reads'} by ${percentText(Math.abs(error), compared)} ± ${percentText(plusMinus(odometerPerTrue))}; the rule allows ${percentText(allowed, compared)} either way (${title}).`,
  }
  if (!certain)
    finding.remedy = 'Drive a known distance, and count the turns or pulses or read the odometer over it.'
  // Not before the profile is right: its error is then another one, or none.
  else if (!isInputErrorLikely) finding.remedy = `${CORRECT_ODOMETER} ${RECORD_ERROR}`
  return finding
}

/** Findings on what the rule says of a path: of the speed that it indicates, and of its odometer. */
export const ruleFindings = (
  { rule: { rule } }: Vehicle,
  evaluated: EvaluatedPath,
  isInputErrorLikely: boolean,
): Finding[] => {
  const { speed, distance } = evaluated.verdict ?? {}
  const { title } = rule
  const found: Finding[] = []
  if (speed !== undefined) found.push(speedFinding(title, evaluated, speed))
  else if (rule.speed !== undefined) {
    found.push({
      code: 'rule-not-judged',
      level: 'info',
      pointer: '/rule',
      text: `${evaluated.path.name}: the rule sets no limit at any speed of this vehicle (${title}).`,
    })
  }
  if (distance !== undefined && distance.result !== 'conforms')
    found.push(odometerFinding(title, evaluated, distance, isInputErrorLikely))
  return found
}
