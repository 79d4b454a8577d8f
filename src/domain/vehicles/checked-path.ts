import { odometerErrorPercent, readingOf, type Shaft } from '../drive-paths/path.js'
import { type SpeedRow, speedRow } from '../drive-paths/speed-table.js'
import type { RuleVerdict } from '../gauges/rule-verdicts.js'
import { speedVerdicts } from '../gauges/verdicts.js'
import { type BudgetLine, budget } from '../measure/budget.js'
import { exact, type Figure } from '../measure/figure.js'
import { plusMinus } from '../measure/uncertainty.js'
import type { Mutable } from '../mutable.js'
import { lowestSpeedMPerS, periodSpeedStepMPerS, timerStepShare } from '../pulses/timing.js'
import type { EvaluatedPath, ReadingBasis, Vehicle } from './vehicle.js'

/** One drive path, checked: what reaches its head, what it reads, and the verdict of the rule. */
export interface CheckedPath {
  readonly name: string
  readonly basis: ReadingBasis
  readonly shafts: readonly Shaft[]
  readonly outputPerM: Figure
  readonly requiredPerM: Figure
  readonly indicatedPerTrue: Figure
  readonly odometerErrorPercent: number
  /** 95 % [percentage points]. */
  readonly odometerErrorPlusMinusPercent: number
  readonly table: readonly SpeedRow[]
  readonly verdicts: readonly RuleVerdict[]
  /** Of indicated over true. */
  readonly budget: readonly BudgetLine[]
  /** Of the cable into a head that takes turns. */
  readonly cableTurnsPerM?: Figure
  /** Into a head that takes pulses. */
  readonly pulsesPerM?: Figure
  readonly lowestSpeedShownMPerS?: Figure
  /** Step of true speed that one step of the timer makes at the top speed. */
  readonly resolutionAtTopSpeedMPerS?: number
}

function tableOf({ rule, topSpeedMPerS }: Vehicle, { path, line, outputPerM, rowsMPerS }: EvaluatedPath) {
  const { input: signal, dialMaxMPerS } = path.head
  const readingAt = readingOf(line)
  const ends = { dialMaxMPerS, topSpeedMPerS }
  return rowsMPerS.map((trueMPerS) => {
    const reading = readingAt(trueMPerS)
    const verdicts = speedVerdicts([rule], reading, ends)
    return speedRow({ trueMPerS, uTrueMPerS: 0, reading, verdicts, rate: { signal, perM: outputPerM } })
  })
}

function setTiming(
  checked: Mutable<CheckedPath>,
  { topSpeedMPerS }: Vehicle,
  { path, outputPerM, speedsMPerS }: EvaluatedPath,
): void {
  const { zeroTimeoutS, timerTickS } = path.pulse ?? {}
  if (zeroTimeoutS !== undefined)
    checked.lowestSpeedShownMPerS = lowestSpeedMPerS(outputPerM, exact(zeroTimeoutS))
  if (timerTickS === undefined) return
  const topMPerS = topSpeedMPerS ?? speedsMPerS.at(-1)!
  // A timer with less than one tick per period measures no speed: a finding says so, and there is no resolution to give.
  if (timerStepShare(outputPerM.value, topMPerS, timerTickS, 1) <= 1)
    checked.resolutionAtTopSpeedMPerS = periodSpeedStepMPerS(outputPerM.value, topMPerS, timerTickS, 1)
}

/**
 * What a check says of one path: its links, its table, the verdict, and what an electronic reading resolves.
 *
 *     lowest speed shown = 1/(output·timeout)      resolution: the step of one timer tick at the top speed
 *
 * @param vehicle - The vehicle
 * @param evaluated - One of its paths, evaluated
 * @returns The path, checked; quantities of pulses only where pulses reach the head
 * @throws {DomainError} `rule-needs-dial-max`
 * @see EU 165/2014, Annex I (w, k); JCGM 106:2012, 7.4
 * @example checkedPath(EXAMPLE_VEHICLE, evaluateVehiclePath(EXAMPLE_VEHICLE, 0)).odometerErrorPercent // -1.58 ± 1e-9
 */
export function checkedPath(vehicle: Vehicle, evaluated: EvaluatedPath): CheckedPath {
  const { path, line, outputPerM, verdict } = evaluated
  const odometerError = odometerErrorPercent(line.odometerPerTrue)
  const checked: Mutable<CheckedPath> = {
    name: path.name,
    basis: evaluated.basis,
    shafts: evaluated.shafts,
    outputPerM,
    requiredPerM: path.head.constantPerM,
    indicatedPerTrue: line.indicatedPerTrue,
    odometerErrorPercent: odometerError.value,
    odometerErrorPlusMinusPercent: plusMinus(odometerError),
    table: tableOf(vehicle, evaluated),
    verdicts: verdict === undefined ? [] : [verdict],
    budget: budget(line.indicatedPerTrue),
  }
  if (path.head.input === 'turns') checked.cableTurnsPerM = outputPerM
  else {
    checked.pulsesPerM = outputPerM
    setTiming(checked, vehicle, evaluated)
  }
  return checked
}
