import { shaftPerM } from '../drive-paths/path.js'
import { quotient } from '../measure/propagation.js'
import { plusMinus } from '../measure/uncertainty.js'
import { fromSi } from '../measure/units.js'
import { inputErrorsAgainstMeasured } from './input-errors.js'
import type { EvaluatedPath, Finding } from './vehicle.js'
import { percentText } from './words.js'

/** The computed value of the measured quantity, in the form of the field `computed`. */
function computedText({ path, basis, computed, shafts }: EvaluatedPath): string {
  if (basis === 'measured-reading')
    return `indicatedPerTrue ${computed.indicatedPerTrue.value.toPrecision(6)}`
  const key = path.unit === 'mph' ? 'perMile' : 'perKm'
  return `output { ${key}: ${fromSi('perDistance', key, shaftPerM(shafts.at(-1)!).value).toPrecision(6)} }`
}

function outdatedFindings({ index, outdated }: EvaluatedPath): Finding[] {
  if (outdated === undefined) return []
  return [
    {
      code: 'measured-outdated',
      level: 'caution',
      pointer: `/paths/${index}/measured`,
      text: `The measured values are not used: tire, stages or head have changed since, and the value computed from them is now ${percentText(Math.abs(outdated - 1))} ${outdated > 1 ? 'higher' : 'lower'}.`,
      remedy:
        'Measure again. If the car is unchanged and only the profile was corrected, remove the field measured/computed.',
    },
  ]
}

function unguardedFindings(evaluated: EvaluatedPath): Finding[] {
  const { path, index } = evaluated
  if (path.measured?.computed !== undefined) return []
  return [
    {
      code: 'measured-without-computed',
      level: 'info',
      pointer: `/paths/${index}/measured`,
      text: 'The profile does not record what tire, stages and head computed to when this was measured: a later change of one of them would go unnoticed.',
      remedy: `Give measured/computed: ${computedText(evaluated)}, provided the parts are unchanged since the measurement. Applying a stored calibration of the vehicle sets it.`,
    },
  ]
}

function disagreementFindings(evaluated: EvaluatedPath): Finding[] {
  const { index, basis, outputPerM, line, computed, shafts } = evaluated
  const measured = basis === 'measured-output' ? outputPerM : line.indicatedPerTrue
  const expected = basis === 'measured-output' ? shaftPerM(shafts.at(-1)!) : computed.indicatedPerTrue
  const difference = measured.value / expected.value - 1
  const uncertainty = Math.hypot(plusMinus(measured) / measured.value, plusMinus(expected) / expected.value)
  if (!(Math.abs(difference) > uncertainty)) return []
  const inputErrors = inputErrorsAgainstMeasured(evaluated, quotient(expected, measured))
  const compared = [Math.abs(difference), uncertainty]
  return [
    {
      code: 'measured-disagrees',
      level: 'caution',
      pointer: `/paths/${index}/measured`,
      text: `The measured value differs by ${percentText(Math.abs(difference), compared)} from the value computed from tire, stages and head, by more than their uncertainty (${percentText(uncertainty, compared)}): a ratio, a tooth count or the measurement is wrong.`,
      ...(inputErrors.length === 0
        ? {}
        : { remedy: `A likely explanation: ${inputErrors.map(({ text }) => text).join(', or ')}.` }),
    },
  ]
}

/** Findings on the measured values of a path against those computed from its parts. */
export const measuredFindings = (evaluated: EvaluatedPath): Finding[] => [
  ...outdatedFindings(evaluated),
  ...(evaluated.basis === 'computed'
    ? []
    : [...unguardedFindings(evaluated), ...disagreementFindings(evaluated)]),
]
