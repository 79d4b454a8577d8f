import type { Static } from '@sinclair/typebox'
import { ratioFigure, ratioOut, valueSi } from '../codec/measures.js'
import { readingOf } from '../domain/drive-paths/path.js'
import { ruleSources } from '../domain/gauges/verdicts.js'
import { budget, exact, type Figure, product } from '../domain/measure/figure.js'
import type { Note } from '../domain/measure/notes.js'
import type { SourceId } from '../domain/measure/sources.js'
import { circumferenceOfOne, tireChange } from '../domain/tires/comparison.js'
import type { SizeTable } from '../domain/tires/size-table.js'
import type { GaugeErrorAnswer, GaugeErrorRequest, SpeedTableRowShape } from '../schemas/gauges.js'
import {
  dialNotes,
  headErrors,
  RULES_CAUTION,
  ruleVerdicts,
  speedOf,
  speedRow,
  verdictsAt,
} from './drive-paths.js'
import { distanceNotes, rulesOf } from './gauges.js'
import { provenance } from './provenance.js'
import { geometryAt } from './tires.js'

interface Drive {
  readonly indicatedPerTrue: Figure
  /** Odometer error; unknown where the reading was measured. */
  readonly odometerPerTrue?: Figure
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

function driveOf(request: Static<typeof GaugeErrorRequest>, table: SizeTable): Drive {
  if ('indicatedPerTrue' in request) {
    return {
      indicatedPerTrue: ratioFigure(request.indicatedPerTrue, 'indicatedPerTrue'),
      sources: ['gum', 'caller-reading'],
      notes: [],
    }
  }
  const fitted = geometryAt('/fitted', request.fitted, table)
  const calibratedFor = geometryAt('/calibratedFor', request.calibratedFor, table)
  const { indicatedPerTrue } = tireChange(
    circumferenceOfOne('calibratedFor', calibratedFor),
    circumferenceOfOne('fitted', fitted),
  )
  return {
    indicatedPerTrue,
    odometerPerTrue: indicatedPerTrue,
    sources: [...fitted.sources, ...calibratedFor.sources],
    notes: [...fitted.notes, ...calibratedFor.notes],
  }
}

/** The answer of `POST /v1/gauges/error`. */
export function gaugeErrorOut(
  request: Static<typeof GaugeErrorRequest>,
  table: SizeTable,
): Static<typeof GaugeErrorAnswer> {
  const drive = driveOf(request, table)
  const own =
    request.head === undefined ? { scale: exact(1), offsetMPerS: exact(0) } : headErrors(request.head)
  const dialMaxMPerS =
    request.head?.dialMax === undefined ? undefined : valueSi('speed', request.head.dialMax)
  const ends = { dialMaxMPerS }
  const rules = rulesOf(request.rules)
  const line = {
    indicatedPerTrue: product(drive.indicatedPerTrue, own.scale),
    offsetMPerS: own.offsetMPerS,
    odometerPerTrue: drive.odometerPerTrue,
  }
  const reading = readingOf(line)
  const speeds = request.speeds.map(speedOf)
  const trueSpeeds = speeds.map(({ trueMPerS }) => trueMPerS)
  const rows = speeds.map(({ trueMPerS, u }) => {
    const read = reading(trueMPerS, u)
    return speedRow({
      trueMPerS,
      uTrueMPerS: u,
      reading: read,
      verdicts: verdictsAt(rules, read, ends),
    })
  })
  const out: Static<typeof GaugeErrorAnswer> = {
    indicatedPerTrue: ratioOut(line.indicatedPerTrue),
    table: rows,
    verdicts: ruleVerdicts(rules, line, ends),
    series: errorSeries(rows),
    budget: budget(line.indicatedPerTrue),
    ...provenance({
      sources: new Set<SourceId>([...drive.sources, ...ruleSources(rules)]),
      notes: [...drive.notes, ...dialNotes(trueSpeeds, reading, dialMaxMPerS)],
    }),
  }
  if (drive.odometerPerTrue === undefined) out.notes.push(...distanceNotes(rules))
  if (rules.length > 0) out.notes.push(RULES_CAUTION)
  return out
}

/** Error against true speed in km/h, with the ends of its uncertainty. */
function errorSeries(rows: readonly SpeedTableRowShape[]): Static<typeof GaugeErrorAnswer>['series'] {
  const sorted = [...rows].sort((a, b) => a.true.kmh - b.true.kmh)
  const line = (name: string, y: (row: SpeedTableRowShape) => number) => ({
    name,
    unit: 'km/h',
    points: sorted.map((row) => [row.true.kmh, y(row)]),
  })
  const error = (row: SpeedTableRowShape) => row.error?.kmh ?? 0
  const uncertainty = (row: SpeedTableRowShape) => row.error?.plusMinus?.kmh ?? 0
  return [
    line('error', error),
    line('error, lower end of uncertainty', (row) => error(row) - uncertainty(row)),
    line('error, upper end of uncertainty', (row) => error(row) + uncertainty(row)),
  ]
}
