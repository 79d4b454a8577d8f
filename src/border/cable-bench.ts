import type { Static } from '@sinclair/typebox'
import {
  figureOut,
  figureSi,
  frequencyOut,
  perDistanceOut,
  ratioOut,
  rotationalSpeedOut,
  speedOut,
} from '../codec/measures.js'
import {
  type BenchTolerance,
  benchRatePerS,
  benchSpeedMPerS,
  benchTolerance,
  tighteningSense,
} from '../domain/cables/bench.js'
import { agreement, countCheck, suspects } from '../domain/cables/count-check.js'
import { stageName } from '../domain/drive-paths/given-path.js'
import { checkHeadFits, type Head, pathOutput, readingOf, spreadAgainst } from '../domain/drive-paths/path.js'
import { DomainError, withPointer } from '../domain/errors.js'
import { type NamedRule, ruleSources, tableRule } from '../domain/gauges/verdicts.js'
import {
  budget,
  exact,
  type Figure,
  plusMinus,
  quotient,
  standardUncertainty,
} from '../domain/measure/figure.js'
import type { Note } from '../domain/measure/notes.js'
import type { SourceId } from '../domain/measure/sources.js'
import { halfWidth } from '../domain/measure/spread.js'
import { MILE_M } from '../domain/measure/units.js'
import type { SizeTable } from '../domain/tires/size-table.js'
import { tableSpeeds } from '../domain/vehicles/evaluate.js'
import { percentText } from '../domain/vehicles/words.js'
import type {
  BenchTableAnswer,
  BenchTableBody,
  CountCheckAnswer,
  CountCheckBody,
} from '../schemas/cable-bench.js'
import { headOf, stageOf } from './drive-paths.js'
import { rulesOf } from './gauges.js'
import { provenance } from './provenance.js'
import { geometryAt } from './tires.js'

type BenchAnswer = Static<typeof BenchTableAnswer>
type BenchRow = BenchAnswer['rows'][number]

/** Top of the table for a dial without a given last mark [m/s]: the highest mark of the bench practice, 60 mph. */
const DEFAULT_TOP_M_PER_S = 60 * 0.44704

/** Resolution of the reading when the request does not give it [turns]. */
const DEFAULT_RESOLUTION = 0.25

/** 1/100 mile. */
const SHOP_COURSE_M = MILE_M / 100

const toleranceOut = (rule: string, tolerance: BenchTolerance) => {
  const out: BenchRow['tolerances'][number] = { rule, basis: tolerance.basis }
  if (tolerance.lowerMPerS !== undefined) out.lower = speedOut(tolerance.lowerMPerS)
  if (tolerance.upperMPerS !== undefined) out.upper = speedOut(tolerance.upperMPerS)
  return out
}

function rowFactory(head: Head, rules: readonly NamedRule[], drillPerS: number | undefined) {
  const own = readingOf({ indicatedPerTrue: head.scale, offsetMPerS: head.offsetMPerS })
  return (speed: Figure, rate: Figure): BenchRow => {
    const shows = own(speed.value, standardUncertainty(speed))
    const row: BenchRow = {
      speed: figureOut(speedOut, speed),
      shows: speedOut(shows.indicatedMPerS, halfWidth(spreadAgainst(shows, 0))),
      tolerances: rules.flatMap((rule) => {
        const tolerance = withPointer('/head', () => benchTolerance(rule, speed.value, head.dialMaxMPerS))
        return tolerance === undefined ? [] : [toleranceOut(rule.id, tolerance)]
      }),
    }
    if (head.input === 'turns') row.rpm = figureOut(rotationalSpeedOut, rate)
    else row.frequency = figureOut(frequencyOut, rate)
    if (drillPerS !== undefined) row.drillReaches = rate.value <= drillPerS
    return row
  }
}

function turningInto(out: BenchAnswer, request: BenchTableBody): void {
  if (request.headTurns !== undefined) out.turn = request.headTurns
  if (request.outerLayer === undefined) return
  out.shaftTightens = tighteningSense(request.outerLayer)
  if (request.headTurns !== undefined && out.shaftTightens !== request.headTurns) {
    out.notes.push({
      code: 'shaft-unwinds',
      level: 'caution',
      text: `The head turns ${request.headTurns}, and this shaft tightens only ${out.shaftTightens}: under load its outer layer unwinds, and it whips and breaks. Use a shaft of the other lay, or couple the drill to the head without a flexible shaft.`,
    })
  }
}

const BENCH_CAUTION: Note = {
  code: 'bench-safety',
  level: 'caution',
  text: 'Hold the head, not the shaft. Keep fingers, rags and sleeves away from a turning shaft. Raise the speed slowly, and stop before the pointer reaches its end stop.',
}

const DIRECTION_UNKNOWN: Note = {
  code: 'direction-not-given',
  level: 'info',
  text: 'The constant does not give the direction of rotation. Turn the square of the head by hand: in the right direction the odometer counts up. Driven the wrong way, the pointer presses on its stop and the odometer runs backward. A flexible shaft takes load only in the direction that tightens its outer layer.',
}

/** The answer of `POST /v1/cables/bench-table`. */
export function benchTableOut(request: BenchTableBody): BenchAnswer {
  const head = headOf(request.head)
  const pulses = head.input === 'pulses'
  for (const field of ['rpms', 'drill', 'headTurns', 'outerLayer'] as const) {
    if (pulses && request[field] !== undefined) {
      throw new DomainError(
        'head-does-not-fit-path',
        `${field}: the head takes pulses, not turns; leave ${field} out and drive the head at the frequencies of the answer`,
        { pointer: `/${field}` },
      )
    }
  }
  const rules = request.rules === undefined ? [tableRule('us-army-bench-1944')] : rulesOf(request.rules)
  const drillPerS =
    request.drill === undefined
      ? undefined
      : figureSi('rotational-speed', request.drill.topSpeed, 'top speed of the drill')
  const row = rowFactory(head, rules, drillPerS?.value)
  const given = request.speeds?.map((speed) => figureSi('speed', speed, 'mark of the dial'))
  const marks =
    given ??
    (request.rpms === undefined
      ? tableSpeeds(request.head.unit, head.dialMaxMPerS ?? DEFAULT_TOP_M_PER_S).map(exact)
      : [])
  const rows = marks.map((speed) => row(speed, benchRatePerS(head.constantPerM, speed)))
  for (const rpm of request.rpms ?? []) {
    const rate = figureSi('rotational-speed', rpm, 'rate of turning')
    rows.push(row(benchSpeedMPerS(head.constantPerM, rate), rate))
  }
  const notes: Note[] = []
  if (!pulses) {
    notes.push(BENCH_CAUTION)
    if (request.headTurns === undefined) notes.push(DIRECTION_UNKNOWN)
  }
  const out: BenchAnswer = {
    rows,
    ...provenance({
      sources: [
        'definitions',
        'gum',
        'tm-9-1829a',
        'tm-5-3805-254-14p-2',
        ...ruleSources(rules).filter(isNotVerdict),
      ],
      notes,
    }),
  }
  turningInto(out, request)
  if (drillPerS !== undefined) {
    out.drillReaches = figureOut(speedOut, benchSpeedMPerS(head.constantPerM, drillPerS))
    if (rows.some(({ drillReaches }) => drillReaches === false)) {
      out.notes.push({
        code: 'drill-too-slow',
        level: 'info',
        text: 'The drill does not reach every speed in the table. Check up to its top speed; the slope found there applies to the rest of the scale only if the scale is linear. Pulleys or gears of known ratio extend the range.',
      })
    }
  }
  return out
}

/** The table gives limits only, no verdict. */
const isNotVerdict = (source: SourceId) => source !== 'jcgm-106'

/** The answer of `POST /v1/cables/count-check`. */
export function countCheckOut(request: CountCheckBody, table: SizeTable): Static<typeof CountCheckAnswer> {
  const counts = [request.cableTurns, ...(request.repeats ?? [])]
  const distanceM =
    request.distance === undefined
      ? exact(SHOP_COURSE_M)
      : figureSi('distance', request.distance, 'distance rolled')
  const counted = withPointer('/cableTurns', () =>
    countCheck(counts, request.resolution ?? DEFAULT_RESOLUTION, distanceM),
  )
  const sources: SourceId[] = ['definitions', 'gum', 'caller-reading', 'tm-9-1829a']
  if (request.distance === undefined || request.resolution === undefined) sources.push('shop-course')
  const out: Static<typeof CountCheckAnswer> = {
    counted: { turns: counted.turns.value, plusMinus: plusMinus(counted.turns), counts: counts.length },
    turns: figureOut(perDistanceOut, counted.turnsPerM),
    outliers: [...counted.outliers],
    budget: budget(counted.turnsPerM),
    ...provenance({ sources, notes: counted.notes }),
  }
  if (request.distance?.plusMinus === undefined) {
    out.notes.push({
      code: 'distance-taken-as-exact',
      level: 'info',
      text: 'The distance counts as exact: measure it with a tape and give plusMinus.',
    })
  }
  compareInto(out, request, counted.turnsPerM, table)
  if (request.head !== undefined) {
    const head = headOf(request.head)
    checkHeadFits('turns', head)
    out.odometerPerTrue = ratioOut(quotient(counted.turnsPerM, head.constantPerM))
  }
  return out
}

function compareInto(
  out: Static<typeof CountCheckAnswer>,
  request: CountCheckBody,
  foundPerM: ReturnType<typeof countCheck>['turnsPerM'],
  table: SizeTable,
): void {
  if (request.tire === undefined) {
    if (request.stages !== undefined) {
      throw new DomainError('tire-needed', 'stages: the comparison needs the tire; give tire as well', {
        pointer: '/tire',
      })
    }
    return
  }
  const geometry = geometryAt('/tire', request.tire, table)
  const stages = (request.stages ?? []).map(stageOf)
  const path = pathOutput(geometry.turnsPerM, stages)
  if (path.signal === 'pulses') {
    throw new DomainError(
      'path-order',
      'stages: a cable carries turns; leave out the pulse-ring and what follows it',
      {
        pointer: '/stages',
      },
    )
  }
  const factor = quotient(foundPerM, path.outputPerM)
  out.expected = figureOut(perDistanceOut, path.outputPerM)
  out.foundPerExpected = ratioOut(factor)
  out.agreement = agreement(factor)
  out.ratioFound = ratioOut(quotient(foundPerM, geometry.turnsPerM))
  out.notes.push(...geometry.notes)
  out.sources = provenance({
    sources: [...out.sources, ...geometry.sources, 'eu-165-2014', 'tm-5-3820-256-24-4'],
    notes: [],
  }).sources
  if (out.agreement !== 'differs') return
  // The uncertainty of the tire counts here too: the tire may be the cause.
  out.suspects = suspects(stages, factor).map(({ stage, ratioImplied, drivenImplied }) => {
    const wire = request.stages![stage]!
    const suspect: NonNullable<typeof out.suspects>[number] = {
      pointer: `/stages/${stage}`,
      name: stageName(wire, stage),
      ratio: stages[stage]!.ratio.value,
      ratioImplied: ratioOut(ratioImplied),
    }
    if (drivenImplied !== undefined) suspect.drivenImplied = drivenImplied
    return suspect
  })
  out.notes.push({
    code: 'count-and-path-differ',
    level: 'caution',
    text: `The cable turns ${percentText(Math.abs(factor.value - 1))} ${factor.value > 1 ? 'more' : 'less'} than tire and stages give: one of the ratios is not the one stated, the rolling circumference differs, or the drive slips. suspects gives the ratio that each stage would need.`,
  })
}
