import { type GivenHead, type GivenStage, givenHead, givenStage } from '../drive-paths/given-path.js'
import { checkHeadFits, odometerErrorPercent, pathOutput, response } from '../drive-paths/path.js'
import { type GivenRule, givenRules } from '../gauges/given-rules.js'
import { type DistanceVerdict, distanceVerdict } from '../gauges/rule-verdicts.js'
import { type NamedRule, ruleSources } from '../gauges/verdicts.js'
import { type BudgetLine, budget } from '../measure/budget.js'
import type { Figure } from '../measure/figure.js'
import { infoNote, type Note } from '../measure/notes.js'
import { quotient } from '../measure/propagation.js'
import type { Traced } from '../measure/provenance.js'
import { plusMinus } from '../measure/uncertainty.js'
import type { Mutable } from '../mutable.js'
import { circumferenceOfOne, tireChange } from '../tires/comparison.js'
import { type Tire, tireGeometryAt } from '../tires/geometry.js'
import type { SizeTable } from '../tires/size-table.js'
import { RECORD_CAUTION } from './record-caution.js'

/** An odometer by the tire with which it was right, or by the path that drives it. */
export type OdometerErrorRequest = {
  /** The tire fitted now. */
  readonly tire: Tire
  /** Recorded distance to correct. */
  readonly indicatedM?: Figure
  readonly rules?: readonly GivenRule[]
} & ({ readonly calibratedFor: Tire } | { readonly stages: readonly GivenStage[]; readonly head: GivenHead })

export interface OdometerError extends Traced {
  readonly errorPercent: number
  /** 95 % [percentage points]. */
  readonly errorPlusMinusPercent: number
  readonly odometerPerTrue: Figure
  readonly verdicts: readonly DistanceVerdict[]
  readonly budget: readonly BudgetLine[]
  /** True distance behind the recorded one. */
  readonly trueDistanceM?: Figure
}

interface Odometer extends Traced {
  readonly odometerPerTrue: Figure
}

function odometerOf(request: OdometerErrorRequest, table: SizeTable): Odometer {
  const fitted = tireGeometryAt('/tire', request.tire, table)
  if ('calibratedFor' in request) {
    const before = tireGeometryAt('/calibratedFor', request.calibratedFor, table)
    const change = tireChange(
      circumferenceOfOne('calibratedFor', before),
      circumferenceOfOne('fitted', fitted),
    )
    return {
      odometerPerTrue: change.indicatedPerTrue,
      sources: [...fitted.sources, ...before.sources],
      notes: [...fitted.notes, ...before.notes],
    }
  }
  const output = pathOutput(fitted.turnsPerM, request.stages.map(givenStage))
  const head = givenHead(request.head)
  checkHeadFits(output.signal, head)
  return {
    odometerPerTrue: response(output.outputPerM, head).odometerPerTrue,
    sources: [...fitted.sources, 'eu-165-2014'],
    notes: fitted.notes,
  }
}

const notJudged = ({ id, rule }: NamedRule): Note[] =>
  rule.distanceFraction === undefined
    ? [infoNote('rule-not-judged', `${id} does not limit the odometer.`)]
    : []

/**
 * Error of an odometer with the tire fitted.
 *
 *     odometer/true = C_calibrated/C_fitted, or the response of the path      error = 100·(odometer/true − 1) %      true = indicated/(odometer/true)
 *
 * C is the rolling circumference of a tire.
 *
 * @param request - Tire fitted; the tire for which the odometer is right, or stages and head; rules; a recorded distance [m] to correct
 * @param table - Finds tire sizes that no formula covers
 * @returns Error with its uncertainty, verdicts of the rules that limit the odometer, and the true distance where one was recorded [m]
 * @throws {DomainError} those of `tireGeometry`, each at its tire; `path-order`, `head-does-not-fit-path`, `rule-without-limits`, `rule-bounds-crossed`
 * @see EU 165/2014, Annex I (indicated distance is proportional to l over the true circumference); 49 USC 32703 for the caution
 * @example odometerError({ tire: { rollingCircumferenceM: exact(1.9) }, calibratedFor: { rollingCircumferenceM: exact(2) } }, builtInSizes).errorPercent // 5.2631579 ± 1e-7
 */
export function odometerError(request: OdometerErrorRequest, table: SizeTable): OdometerError {
  const { odometerPerTrue, sources, notes } = odometerOf(request, table)
  const rules = givenRules(request.rules)
  const error = odometerErrorPercent(odometerPerTrue)
  const out: Mutable<OdometerError> = {
    errorPercent: error.value,
    errorPlusMinusPercent: plusMinus(error),
    odometerPerTrue,
    verdicts: rules.flatMap((rule) => distanceVerdict(rule, odometerPerTrue) ?? []),
    budget: budget(odometerPerTrue),
    sources: [...sources, ...ruleSources(rules), 'us-49-usc-32703'],
    notes: [...notes, RECORD_CAUTION, ...rules.flatMap(notJudged)],
  }
  if (request.indicatedM !== undefined) out.trueDistanceM = quotient(request.indicatedM, odometerPerTrue)
  return out
}
