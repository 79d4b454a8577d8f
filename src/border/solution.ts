import type { Static } from '@sinclair/typebox'
import { carriedBy, checkHeadFits, pathOutput, response, type Stage } from '../domain/drive-paths/path.js'
import { type Choice, type Find, solveStages } from '../domain/drive-paths/solve.js'
import { ruleSources } from '../domain/gauges/verdicts.js'
import { conformityProbability } from '../domain/measure/conformity.js'
import { exact, standardUncertainty } from '../domain/measure/figure.js'
import type { Note } from '../domain/measure/notes.js'
import type { SourceId } from '../domain/measure/sources.js'
import type { SizeTable } from '../domain/tires/size-table.js'
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
import { ratioOut } from './measures.js'
import { provenance } from './provenance.js'
import { geometryAt } from './tires.js'

/** Over-reading wanted when the caller names none: never under, at most 4 %. */
const USUAL_AIM = { minFraction: 0, maxFraction: 0.04 }
const USUAL_MOST = 10

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

/** The answer of `POST /v1/drive-paths/solution`. */
export function solutionOut(
  request: Static<typeof SolutionRequest>,
  table: SizeTable,
): Static<typeof SolutionAnswer> {
  const geometry = geometryAt('/tire', request.tire, table)
  const head = headOf(request.head)
  checkHeadFits(carriedBy(request.stages.map(({ kind }) => kind)), head)
  const open = request.stages.flatMap((stage, index) => (isOpen(stage) ? [{ stage, index }] : []))
  const rules = rulesOf(request.rules)
  const aimPercent = request.aim?.overReadPercent
  const aim =
    aimPercent === undefined
      ? USUAL_AIM
      : { minFraction: aimPercent.min / 100, maxFraction: aimPercent.max / 100 }

  /** The path with a choice in each open stage. */
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
    request.most ?? USUAL_MOST,
  )
  const { dialMaxMPerS } = head
  const notes: Note[] = [...geometry.notes]
  if (solutions.every(({ withinAim }) => !withinAim)) {
    notes.push({
      code: 'nothing-within-aim',
      level: 'caution',
      text: 'No candidate reads as aimed; the nearest are shown. Give more wheels or ratios, open another stage, or widen the aim.',
    })
  }
  if (rules.length > 0) notes.push(RULES_CAUTION)
  return {
    exact: exactProduct,
    candidates: solutions.map(({ choices, errorFraction, withinAim }) => {
      const line = lineOf(choices)
      const slope = line.indicatedPerTrue
      return {
        stages: open.map(({ stage, index }, position) => chosenOut(choices[position]!, stage.find, index)),
        indicatedPerTrue: ratioOut(slope),
        errorPercent: errorFraction * 100,
        withinAim,
        probabilityOfUnderReading:
          1 - conformityProbability(slope.value, standardUncertainty(slope), 1, Number.POSITIVE_INFINITY),
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
