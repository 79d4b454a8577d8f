import type { Static } from '@sinclair/typebox'
import { ratioOut, valueSi } from '../codec/measures.js'
import { type Aim, type OffsetRange, offsetRange, ROUNDING } from '../domain/drive-paths/judgment.js'
import {
  checkHeadFits,
  pathOutput,
  readingOf,
  response,
  type Stage,
  signalOf,
} from '../domain/drive-paths/path.js'
import { type Choice, type Find, solveStages } from '../domain/drive-paths/solve.js'
import { ruleSources, topJudgedMPerS } from '../domain/gauges/verdicts.js'
import { exact } from '../domain/measure/figure.js'
import type { Note } from '../domain/measure/notes.js'
import type { SourceId } from '../domain/measure/sources.js'
import type { SizeTable } from '../domain/tires/size-table.js'
import { judgedSpeeds, underReading } from '../domain/vehicles/aim.js'
import { tableSpeeds } from '../domain/vehicles/evaluate.js'
import type { SpeedUnit } from '../domain/vehicles/vehicle.js'
import { percentText, speedText } from '../domain/vehicles/words.js'
import type {
  ChosenStage,
  FindShape,
  OpenStageShape,
  SolutionAnswer,
  SolutionRequest,
  StageShape,
} from '../schemas/drive-paths.js'
import { headOf, RULES_CAUTION, ruleVerdicts, stageName, stageOf } from './drive-paths.js'
import { rulesOf } from './gauges.js'
import { provenance } from './provenance.js'
import { geometryAt } from './tires.js'

/** Default aim: no under-reading, over-reading of at most 4 %. */
const DEFAULT_AIM = { minFraction: 0, maxFraction: 0.04 }
const DEFAULT_MAX_SOLUTIONS = 10

function findOf(wire: FindShape): Find {
  if (wire === 'exact') return { by: 'exact' }
  if ('ratios' in wire) return { by: 'ratios', ratios: wire.ratios }
  if ('maxTerm' in wire) return { by: 'max-term', maxTerm: wire.maxTerm }
  return { by: 'teeth', driving: wire.driving, driven: wire.driven }
}

const isOpen = (stage: OpenStageShape): stage is Extract<OpenStageShape, { find: FindShape }> =>
  'find' in stage

function chosenOut(
  { ratio, numerator, denominator }: Choice,
  find: FindShape,
  index: number,
): Static<typeof ChosenStage> {
  const out: Static<typeof ChosenStage> = { pointer: `#/stages/${index}`, ratio }
  if (numerator === undefined || denominator === undefined) return out
  if (typeof find === 'object' && 'driving' in find) out.teeth = { driving: numerator, driven: denominator }
  else {
    out.multiply = numerator
    out.divide = denominator
  }
  return out
}

/** Note on an offset that spreads the errors wider than the aim, which no ratio can correct. */
function offsetNote(
  { minFraction, maxFraction, offset }: Aim & { readonly offset: OffsetRange },
  judgedMPerS: readonly number[],
  unit: SpeedUnit,
): Note | undefined {
  const wanted = maxFraction - minFraction
  const spread = offset.maxFraction - offset.minFraction
  if (spread <= wanted + ROUNDING) return undefined
  const [lowest, highest] = [judgedMPerS[0]!, judgedMPerS.at(-1)!]
  return {
    code: 'offset-beyond-aim',
    level: 'caution',
    text: `The offset of the head alone changes its error by ${percentText(spread)} between ${speedText(unit, lowest)} and ${speedText(unit, highest)}, but the aim spans only ${percentText(wanted)}: no ratio brings every speed within the aim. Have the zero of the head set first.`,
  }
}

/** The answer of `POST /v1/drive-paths/solution`. */
export function solutionOut(
  request: Static<typeof SolutionRequest>,
  table: SizeTable,
): Static<typeof SolutionAnswer> {
  const geometry = geometryAt('/tire', request.tire, table)
  const head = headOf(request.head)
  checkHeadFits(signalOf(request.stages.map(({ kind }) => kind)), head)
  const open = request.stages.flatMap((stage, index) => (isOpen(stage) ? [{ stage, index }] : []))
  const rules = rulesOf(request.rules)
  const aimPercent = request.aim?.overReadPercent
  const speeds = (request.speeds ?? []).map((speed) => valueSi('speed', speed))
  const { dialMaxMPerS, offsetMPerS } = head
  // The speeds at which a vehicle check judges its remedies, and the requested ones.
  const judged = judgedSpeeds(
    [...tableSpeeds(request.head.unit, topJudgedMPerS({ dialMaxMPerS })), ...speeds].sort((a, b) => a - b),
  )
  const wanted =
    aimPercent === undefined
      ? DEFAULT_AIM
      : { minFraction: aimPercent.min / 100, maxFraction: aimPercent.max / 100 }
  const aim = { ...wanted, offset: offsetRange(offsetMPerS.value, judged) }

  /** The path with the chosen ratio in each open stage. */
  const filled = (choices: readonly Choice[]): Stage[] => {
    let next = 0
    return request.stages.map((stage, index) =>
      isOpen(stage)
        ? { kind: stage.kind, name: stageName(stage, index), ratio: exact(choices[next++]!.ratio) }
        : stageOf(stage as StageShape, index),
    )
  }
  const lineOf = (choices: readonly Choice[]) =>
    response(pathOutput(geometry.turnsPerM, filled(choices)).outputPerM, head)

  const exactProduct = 1 / lineOf(open.map(() => ({ ratio: 1 }))).indicatedPerTrue.value
  const { solutions, searched } = solveStages(
    exactProduct,
    open.map(({ stage }) => findOf(stage.find)),
    aim,
    request.maxResults ?? DEFAULT_MAX_SOLUTIONS,
    open.map(({ index }) => index),
  )
  const notes: Note[] = [...geometry.notes]
  const spread = offsetNote(aim, judged, request.head.unit)
  if (spread !== undefined) notes.push(spread)
  else if (solutions.every(({ withinAim }) => !withinAim)) {
    notes.push({
      code: 'nothing-within-aim',
      level: 'caution',
      text: 'No candidate lies within the aim; the nearest are listed. Give more gears or ratios, open another stage, or widen the aim.',
    })
  }
  if (rules.length > 0) notes.push(RULES_CAUTION)
  return {
    exact: exactProduct,
    candidates: solutions.map(({ choices, errorFraction, withinAim }) => {
      const line = lineOf(choices)
      return {
        stages: open.map(({ stage, index }, position) => chosenOut(choices[position]!, stage.find, index)),
        indicatedPerTrue: ratioOut(line.indicatedPerTrue),
        errorPercent: errorFraction * 100,
        withinAim,
        probabilityOfUnderReading: underReading(readingOf(line), judged).probability,
        verdicts: ruleVerdicts(rules, line, { dialMaxMPerS }),
      }
    }),
    searched,
    ...provenance({
      sources: new Set<SourceId>([
        ...geometry.sources,
        'eu-165-2014',
        'tm-5-3820-256-24-4',
        'continued-fractions',
        ...ruleSources(rules),
      ]),
      notes,
    }),
  }
}
