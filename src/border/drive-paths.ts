import type { Static } from '@sinclair/typebox'
import {
  figureOut,
  figureSi,
  frequencyOut,
  perDistanceOut,
  ratioFigure,
  ratioOut,
  rotationalSpeedOut,
  speedOut,
  valueSi,
} from '../codec/measures.js'
import {
  checkHeadFits,
  type Head,
  odometerErrorPercent,
  pathOutput,
  type Reading,
  readingOf,
  response,
  type Shaft,
  type Stage,
  spreadAgainst,
} from '../domain/drive-paths/path.js'
import { withPointer } from '../domain/errors.js'
import {
  type EndSpeeds,
  type NamedRule,
  ruleSources,
  ruleVerdict,
  speedVerdict,
  type Verdict,
} from '../domain/gauges/verdicts.js'
import {
  budget,
  COVERAGE_FACTOR,
  correlated,
  exact,
  type Figure,
  plusMinus,
  scaled,
  spreadOf,
  uncertain,
} from '../domain/measure/figure.js'
import type { Note } from '../domain/measure/notes.js'
import { type ExactRatio, figureOfRatio, ratioOf, ratioOfDecimal } from '../domain/measure/ratio.js'
import type { SourceId } from '../domain/measure/sources.js'
import { halfWidth, widened } from '../domain/measure/spread.js'
import { differenceToSi } from '../domain/measure/units.js'
import type { SizeTable } from '../domain/tires/size-table.js'
import type {
  EvaluationAnswer,
  EvaluationRequest,
  HeadShape,
  Shaft as ShaftSchema,
  StageShape,
} from '../schemas/drive-paths.js'
import type { SpeedTableRowShape, VerdictShape } from '../schemas/gauges.js'
import type { MeasureIn } from '../schemas/measures.js'
import { rulesOf, ruleVerdictOut, verdictOut } from './gauges.js'
import { provenance } from './provenance.js'
import { geometryAt } from './tires.js'

/** Name of a stage: the given name, or its position and kind. */
export const stageName = (stage: { kind: string; name?: string }, index: number) =>
  stage.name ?? `stage ${index + 1} (${stage.kind})`

/** The exact ratio of a stage, or a figure if it carries uncertainty. */
function stageRatio(wire: StageShape, name: string): { ratio: Figure; exactRatio?: ExactRatio } {
  const whole = (numerator: number, denominator: number) => {
    const exactRatio = ratioOf(numerator, denominator)
    return { ratio: figureOfRatio(exactRatio), exactRatio }
  }
  if (wire.kind === 'pulse-ring') return whole(wire.pulsesPerTurn, 1)
  if ('ring' in wire) return whole(wire.ring, wire.pinion)
  if ('teeth' in wire) return whole(wire.teeth.driving, wire.teeth.driven)
  if ('multiply' in wire) return whole(wire.multiply, wire.divide)
  const { ratio } = wire
  const value = typeof ratio === 'number' ? ratio : ratio.value
  const uncertainty = typeof ratio === 'number' ? 0 : (ratio.plusMinus ?? 0)
  if (uncertainty > 0) return { ratio: ratioFigure(ratio, `${name}: ratio`) }
  const exactRatio = ratioOfDecimal(value)
  return { ratio: figureOfRatio(exactRatio), exactRatio }
}

/** The domain form of a stage from a request. */
export function stageOf(wire: StageShape, index: number): Stage {
  const name = stageName(wire, index)
  // Two stages with the same name are still independent inputs.
  const input = wire.name === undefined ? name : `${name} (stage ${index + 1})`
  const stage = Object.assign({ kind: wire.kind, name }, stageRatio(wire, input))
  return 'teeth' in wire ? Object.assign(stage, { teeth: wire.teeth }) : stage
}

/** Scale and offset of the head from a request. */
export function headErrors(
  wire: Pick<HeadShape, 'offset' | 'scalePercent' | 'scalePercentPlusMinus' | 'correlation'>,
): Pick<Head, 'scale' | 'offsetMPerS'> {
  const uncertainty = (wire.scalePercentPlusMinus ?? 0) / 100 / COVERAGE_FACTOR
  const scale = uncertain(1 + (wire.scalePercent ?? 0) / 100, 'head: scale', uncertainty)
  const offset = wire.offset === undefined ? exact(0) : figureSi('speed', wire.offset, 'head: offset')
  return { scale, offsetMPerS: correlated(offset, scale, wire.correlation ?? 0) }
}

/** The domain form of a head from a request. */
export function headOf(wire: HeadShape): Head {
  const own = headErrors(wire)
  const head = {
    input: wire.input,
    constantPerM: figureSi('perDistance', wire.constant, 'head: constant'),
    scale: own.scale,
    offsetMPerS: own.offsetMPerS,
  }
  return wire.dialMax === undefined
    ? head
    : Object.assign(head, { dialMaxMPerS: valueSi('speed', wire.dialMax) })
}

export function shaftOut({ after, signal, perM }: Shaft): Static<typeof ShaftSchema> {
  const perDistance = figureOut(perDistanceOut, perM)
  return signal === 'turns' ? { after, turns: perDistance } : { after, pulses: perDistance }
}

/** A true speed from a request with its standard uncertainty. */
export function speedOf(wire: MeasureIn<'speed'>): { trueMPerS: number; u: number } {
  const trueMPerS = valueSi('speed', wire)
  if (wire.plusMinus === undefined) return { trueMPerS, u: 0 }
  const key = 'kmh' in wire ? 'kmh' : 'mph'
  return { trueMPerS, u: differenceToSi('speed', key, wire.plusMinus) / COVERAGE_FACTOR }
}

/** A row of a speed table. */
export interface RowParts {
  readonly trueMPerS: number
  readonly uTrueMPerS: number
  readonly reading?: Reading
  readonly verdicts?: readonly Verdict[]
  /** Turns or pulses per second at that speed. */
  readonly rate?: { readonly signal: 'turns' | 'pulses'; readonly perM: Figure }
}

export function speedRow({ trueMPerS, uTrueMPerS, reading, verdicts, rate }: RowParts): SpeedTableRowShape {
  const row: SpeedTableRowShape = { true: speedOut(trueMPerS, COVERAGE_FACTOR * uTrueMPerS) }
  if (reading !== undefined) {
    const error = reading.indicatedMPerS - trueMPerS
    row.indicated = speedOut(reading.indicatedMPerS, halfWidth(spreadAgainst(reading, 0)))
    row.error = speedOut(error, halfWidth(spreadAgainst(reading, 1)))
    row.errorPercent = (100 * error) / trueMPerS
  }
  if (rate !== undefined) {
    const value = rate.perM.value * trueMPerS
    const ofPath = spreadOf(scaled(rate.perM, trueMPerS))
    const uncertainty = halfWidth(widened(ofPath, rate.perM.value * uTrueMPerS))
    if (rate.signal === 'turns') row.rpm = rotationalSpeedOut(value, uncertainty)
    else row.frequency = frequencyOut(value, uncertainty)
  }
  if (verdicts !== undefined && verdicts.length > 0) row.verdicts = verdicts.map(verdictOut)
  return row
}

/** Verdicts of every rule that applies at one speed. */
export function verdictsAt(rules: readonly NamedRule[], reading: Reading, ends: EndSpeeds): Verdict[] {
  return withPointer('/head', () => rules.flatMap((rule) => speedVerdict(rule, reading, ends) ?? []))
}

/** Verdicts of every rule over all its speeds, and on the odometer if its error is known. */
export function ruleVerdicts(
  rules: readonly NamedRule[],
  line: Parameters<typeof ruleVerdict>[1],
  ends: EndSpeeds,
): VerdictShape[] {
  return withPointer('/head', () =>
    rules.flatMap((rule) => {
      const verdict = ruleVerdict(rule, line, ends)
      return verdict === undefined ? [] : [ruleVerdictOut(verdict)]
    }),
  )
}

/** Notes on the limitations of a reading. */
export function dialNotes(
  speedsMPerS: readonly number[],
  reading: (trueMPerS: number) => Reading,
  dialMaxMPerS: number | undefined,
): Note[] {
  if (
    dialMaxMPerS === undefined ||
    !speedsMPerS.some((speed) => reading(speed).indicatedMPerS > dialMaxMPerS)
  )
    return []
  return [
    {
      code: 'beyond-dial',
      level: 'info',
      text: 'At the highest speeds the indicated speed lies beyond the last mark of the dial, where the pointer stops.',
    },
  ]
}

export const RULES_CAUTION: Note = {
  code: 'rules-are-a-help',
  level: 'caution',
  text: 'Rules differ by country and date. The rule table is an aid, not legal advice: the inspection authority or a licensed workshop decides.',
}

/** The answer of `POST /v1/drive-paths/evaluation`. */
export function evaluationOut(
  request: Static<typeof EvaluationRequest>,
  table: SizeTable,
): Static<typeof EvaluationAnswer> {
  const geometry = geometryAt('/tire', request.tire, table)
  const output = pathOutput(geometry.turnsPerM, request.stages.map(stageOf))
  const rules = rulesOf(request.rules)
  const notes: Note[] = [...geometry.notes]
  const sources = new Set<SourceId>([...geometry.sources, 'eu-165-2014', ...ruleSources(rules)])
  const speeds = request.speeds.map(speedOf)
  const rate = { signal: output.signal, perM: output.outputPerM }
  const out: Static<typeof EvaluationAnswer> = {
    shafts: output.shafts.map(shaftOut),
    signal: output.signal,
    stagesRatio: ratioOut(output.stagesRatio),
    output: figureOut(perDistanceOut, output.outputPerM),
    budget: budget(output.outputPerM),
    table: [],
    verdicts: [],
    ...provenance({ sources, notes }),
  }
  if (output.stagesRatioExact !== undefined) out.stagesRatioExact = output.stagesRatioExact.toFraction()
  if (request.head === undefined) {
    out.table = speeds.map(({ trueMPerS, u }) => speedRow({ trueMPerS, uTrueMPerS: u, rate }))
    if (rules.length > 0) {
      out.notes.push({
        code: 'no-head-no-verdict',
        level: 'info',
        text: 'Without a head there is no reading to judge: give head to get verdicts.',
      })
    }
    return out
  }

  const head = headOf(request.head)
  checkHeadFits(output.signal, head)
  const line = response(output.outputPerM, head)
  const reading = readingOf(line)
  const ends = { dialMaxMPerS: head.dialMaxMPerS }
  out.table = speeds.map(({ trueMPerS, u }) => {
    const read = reading(trueMPerS, u)
    return speedRow({
      trueMPerS,
      uTrueMPerS: u,
      reading: read,
      verdicts: verdictsAt(rules, read, ends),
      rate,
    })
  })
  const trueSpeeds = speeds.map(({ trueMPerS }) => trueMPerS)
  out.verdicts = ruleVerdicts(rules, line, ends)
  const distance = odometerErrorPercent(line.odometerPerTrue)
  out.required = figureOut(perDistanceOut, head.constantPerM)
  out.indicatedPerTrue = ratioOut(line.indicatedPerTrue)
  out.odometerErrorPercent = distance.value
  out.odometerErrorPlusMinusPercent = plusMinus(distance)
  out.budget = budget(line.indicatedPerTrue)
  out.notes.push(...dialNotes(trueSpeeds, reading, head.dialMaxMPerS))
  if (rules.length > 0) out.notes.push(RULES_CAUTION)
  return out
}
