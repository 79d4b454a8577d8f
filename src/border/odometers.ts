import type { Static } from '@sinclair/typebox'
import { distanceOut, figureOut, figureSi, ratioOut } from '../codec/measures.js'
import { checkHeadFits, odometerErrorPercent, pathOutput, response } from '../domain/drive-paths/path.js'
import { distanceVerdict } from '../domain/gauges/rule-verdicts.js'
import { ruleSources } from '../domain/gauges/verdicts.js'
import { budget, type Figure, plusMinus, quotient } from '../domain/measure/figure.js'
import type { Note } from '../domain/measure/notes.js'
import type { SourceId } from '../domain/measure/sources.js'
import { circumferenceOfOne, tireChange } from '../domain/tires/comparison.js'
import type { SizeTable } from '../domain/tires/size-table.js'
import type { OdometerErrorAnswer, OdometerErrorRequest } from '../schemas/odometers.js'
import { headOf, stageOf } from './drive-paths.js'
import { rulesOf } from './gauges.js'
import { provenance } from './provenance.js'
import { geometryAt } from './tires.js'

export const RECORD_CAUTION: Note = {
  code: 'odometer-law',
  level: 'caution',
  text: 'The law restricts changing an odometer (for example 49 USC 32703-32704) and requires a record of the change. This result corrects a calculation; it does not permit changing the odometer.',
}

interface Record {
  readonly odometerPerTrue: Figure
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

function odometerOf(request: Static<typeof OdometerErrorRequest>, table: SizeTable): Record {
  const fitted = geometryAt('/tire', request.tire, table)
  if ('calibratedFor' in request) {
    const before = geometryAt('/calibratedFor', request.calibratedFor, table)
    return {
      odometerPerTrue: tireChange(
        circumferenceOfOne('calibratedFor', before),
        circumferenceOfOne('fitted', fitted),
      ).indicatedPerTrue,
      sources: [...fitted.sources, ...before.sources],
      notes: [...fitted.notes, ...before.notes],
    }
  }
  const output = pathOutput(fitted.turnsPerM, request.stages.map(stageOf))
  const head = headOf(request.head)
  checkHeadFits(output.signal, head)
  return {
    odometerPerTrue: response(output.outputPerM, head).odometerPerTrue,
    sources: [...fitted.sources, 'eu-165-2014'],
    notes: fitted.notes,
  }
}

/** The answer of `POST /v1/odometers/error`. */
export function odometerErrorOut(
  request: Static<typeof OdometerErrorRequest>,
  table: SizeTable,
): Static<typeof OdometerErrorAnswer> {
  const { odometerPerTrue, sources, notes } = odometerOf(request, table)
  const rules = rulesOf(request.rules)
  const error = odometerErrorPercent(odometerPerTrue)
  const out: Static<typeof OdometerErrorAnswer> = {
    errorPercent: error.value,
    errorPlusMinusPercent: plusMinus(error),
    odometerPerTrue: ratioOut(odometerPerTrue),
    verdicts: rules.flatMap((rule) => distanceVerdict(rule, odometerPerTrue) ?? []),
    budget: budget(odometerPerTrue),
    ...provenance({
      sources: [...sources, ...ruleSources(rules), 'us-49-usc-32703'],
      notes: [...notes, RECORD_CAUTION],
    }),
  }
  for (const { id, rule } of rules) {
    if (rule.distanceFraction === undefined) {
      out.notes.push({
        code: 'rule-not-judged',
        level: 'info',
        text: `${id} does not limit the odometer.`,
      })
    }
  }
  if (request.indicated !== undefined) {
    out.trueDistance = figureOut(
      distanceOut,
      quotient(figureSi('distance', request.indicated, 'indicated distance'), odometerPerTrue),
    )
  }
  return out
}
