import { type GivenRule, givenRules } from '../gauges/given-rules.js'
import { dialNotes, RULES_CAUTION } from '../gauges/rule-notes.js'
import { type RuleVerdict, ruleVerdicts } from '../gauges/rule-verdicts.js'
import { type NamedRule, ruleSources, speedVerdicts } from '../gauges/verdicts.js'
import { type BudgetLine, budget } from '../measure/budget.js'
import type { Figure } from '../measure/figure.js'
import { infoNote, type Note } from '../measure/notes.js'
import type { Traced } from '../measure/provenance.js'
import { inLowestTerms } from '../measure/ratio.js'
import { plusMinus } from '../measure/uncertainty.js'
import type { Mutable } from '../mutable.js'
import { type Tire, tireGeometryAt } from '../tires/geometry.js'
import type { SizeTable } from '../tires/size-table.js'
import { type GivenHead, type GivenStage, givenHead, givenStage } from './given-path.js'
import {
  checkHeadFits,
  type DriveSignal,
  odometerErrorPercent,
  type PathOutput,
  pathOutput,
  readingOf,
  response,
  type Shaft,
} from './path.js'
import { type SpeedRow, speedRow, type TrueSpeed, trueSpeed } from './speed-table.js'

export interface EvaluationRequest {
  readonly tire: Tire
  /** From wheel to dial. */
  readonly stages: readonly GivenStage[]
  /** Left out: only what the path delivers is computed. */
  readonly head?: GivenHead
  readonly speedsMPerS: readonly Figure[]
  readonly rules?: readonly GivenRule[]
}

/** What a head at the end of a path reads. */
export interface HeadEvaluation {
  readonly requiredPerM: Figure
  readonly indicatedPerTrue: Figure
  readonly odometerErrorPercent: number
  /** 95 % [percentage points]. */
  readonly odometerErrorPlusMinusPercent: number
}

export interface Evaluation extends Traced, Partial<HeadEvaluation> {
  readonly shafts: readonly Shaft[]
  readonly signal: DriveSignal
  readonly stagesRatio: Figure
  /** The same as a ratio of whole numbers, when no stage carries uncertainty. */
  readonly stagesRatioExact?: string
  readonly outputPerM: Figure
  /** Of indicated over true where there is a head, else of the output. */
  readonly budget: readonly BudgetLine[]
  readonly table: readonly SpeedRow[]
  readonly verdicts: readonly RuleVerdict[]
}

const NO_HEAD: Note = infoNote(
  'no-head-no-verdict',
  'Without a head there is no reading to judge: give head to get verdicts.',
)

const rateOf = ({ signal, outputPerM }: PathOutput) => ({ signal, perM: outputPerM })

/** Table, verdicts and reading of a head at the end of a path. */
function withHead(
  given: GivenHead,
  output: PathOutput,
  speeds: readonly TrueSpeed[],
  rules: readonly NamedRule[],
) {
  const head = givenHead(given)
  checkHeadFits(output.signal, head)
  const line = response(output.outputPerM, head)
  const readingAt = readingOf(line)
  const ends = { dialMaxMPerS: head.dialMaxMPerS }
  const rate = rateOf(output)
  const table = speeds.map((speed) => {
    const reading = readingAt(speed.trueMPerS, speed.uTrueMPerS)
    return speedRow({ ...speed, reading, verdicts: speedVerdicts(rules, reading, ends), rate })
  })
  const odometerError = odometerErrorPercent(line.odometerPerTrue)
  const readings = speeds.map(({ trueMPerS }) => readingAt(trueMPerS))
  return {
    table,
    verdicts: ruleVerdicts(rules, line, ends),
    requiredPerM: head.constantPerM,
    indicatedPerTrue: line.indicatedPerTrue,
    odometerErrorPercent: odometerError.value,
    odometerErrorPlusMinusPercent: plusMinus(odometerError),
    budget: budget(line.indicatedPerTrue),
    notes: [...dialNotes(readings, head.dialMaxMPerS), ...(rules.length > 0 ? [RULES_CAUTION] : [])],
  }
}

/** Table of a path whose head is not given. */
function withoutHead(output: PathOutput, speeds: readonly TrueSpeed[], rules: readonly NamedRule[]) {
  const rate = rateOf(output)
  return {
    table: speeds.map((speed) => speedRow({ ...speed, rate })),
    verdicts: [],
    budget: budget(output.outputPerM),
    notes: rules.length > 0 ? [NO_HEAD] : [],
  }
}

/**
 * Evaluates a drive path: turns or pulses at every link, what the dial reads, and the verdict of each rule.
 *
 *     output = (1/C) · Π rᵢ      indicated = (output / constant)·scale·V + offset
 *
 * C is the rolling circumference of the tire, rᵢ the ratio of stage i.
 *
 * @param request - Tire, stages from wheel to dial, head if any, true speeds [m/s], rules to judge by
 * @param table - Finds tire sizes that no formula covers
 * @returns Shafts, output [1/m], a row a speed, a verdict a rule over all its speeds
 * @throws {DomainError} those of `tireGeometry` and `givenRule`; `path-order`, `head-does-not-fit-path`, `rule-needs-dial-max`
 * @see EU 165/2014, Annex I (w, k); JCGM 106:2012, 7.4
 * @example evaluateDrivePath({ tire: { turnsPerM: exact(0.5) }, stages: [{ kind: 'final-drive', ratio: exact(4) }, { kind: 'gear-pair', teeth: { driving: 7, driven: 20 } }], speedsMPerS: [exact(20)] }, builtInSizes).outputPerM.value // 0.7 ± 1e-12
 */
export function evaluateDrivePath(request: EvaluationRequest, table: SizeTable): Evaluation {
  const { tire, stages, head, speedsMPerS } = request
  const geometry = tireGeometryAt('/tire', tire, table)
  const output = pathOutput(geometry.turnsPerM, stages.map(givenStage))
  const rules = givenRules(request.rules)
  const speeds = speedsMPerS.map(trueSpeed)
  const read = head === undefined ? withoutHead(output, speeds, rules) : withHead(head, output, speeds, rules)
  const { shafts, signal, stagesRatio, stagesRatioExact, outputPerM } = output
  const evaluation: Mutable<Evaluation> = {
    shafts,
    signal,
    stagesRatio,
    outputPerM,
    ...read,
    sources: [...geometry.sources, 'eu-165-2014', ...ruleSources(rules)],
    notes: [...geometry.notes, ...read.notes],
  }
  if (stagesRatioExact !== undefined)
    evaluation.stagesRatioExact = inLowestTerms(stagesRatioExact).toFraction()
  return evaluation
}
