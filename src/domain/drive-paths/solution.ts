import { type GivenRule, givenRules } from '../gauges/given-rules.js'
import { RULES_CAUTION } from '../gauges/rule-notes.js'
import { type RuleVerdict, ruleVerdicts } from '../gauges/rule-verdicts.js'
import { ruleSources, topJudgedMPerS } from '../gauges/verdicts.js'
import { exact, type Figure } from '../measure/figure.js'
import { cautionNote, type Note } from '../measure/notes.js'
import type { Traced } from '../measure/provenance.js'
import type { UnitKey } from '../measure/units.js'
import { type Tire, tireGeometryAt } from '../tires/geometry.js'
import type { SizeTable } from '../tires/size-table.js'
import { judgedSpeeds, underReading } from '../vehicles/aim.js'
import { tableSpeeds } from '../vehicles/evaluate.js'
import { percentText, speedText } from '../vehicles/words.js'
import type { Choice, Solution } from './best-solutions.js'
import { type GivenHead, type GivenStage, givenHead, givenStage, stageName } from './given-path.js'
import { type Aim, type OffsetRange, offsetRange, ROUNDING } from './judgment.js'
import {
  checkHeadFits,
  type Head,
  pathOutput,
  type Response,
  readingOf,
  response,
  type Stage,
  type StageKind,
  signalOf,
} from './path.js'
import { type Find, solveStages } from './solve.js'

/** A stage that is looked for. */
export interface OpenStage {
  readonly kind: StageKind
  readonly name?: string
  readonly find: Find
}

export interface SolutionRequest {
  readonly tire: Tire
  /** From wheel to dial; one or more of them open. */
  readonly stages: ReadonlyArray<GivenStage | OpenStage>
  readonly head: GivenHead
  /** Judged beside the round speeds of the dial. */
  readonly speedsMPerS?: readonly number[]
  readonly rules?: readonly GivenRule[]
  /** Left out: 0 to 4 %. */
  readonly aim?: { readonly overReadPercent: { readonly min: number; readonly max: number } }
  /** Left out: 10. */
  readonly maxResults?: number
}

/** What was found for a stage. */
export interface ChosenStage {
  /** The stage in the request. */
  readonly pointer: string
  readonly ratio: number
  readonly teeth?: { readonly driving: number; readonly driven: number }
  readonly multiply?: number
  readonly divide?: number
}

/** One way to fill the open stages. */
export interface SolutionCandidate {
  readonly stages: readonly ChosenStage[]
  readonly indicatedPerTrue: Figure
  readonly errorPercent: number
  readonly withinAim: boolean
  readonly probabilityOfUnderReading: number
  readonly verdicts: readonly RuleVerdict[]
}

export interface PathSolution extends Traced {
  /** Product of the open stages at which the head reads true, apart from its offset. */
  readonly exact: number
  /** Best first. */
  readonly candidates: readonly SolutionCandidate[]
  readonly searched: number
}

/** Default aim: no under-reading, over-reading of at most 4 %. */
const DEFAULT_AIM = { min: 0, max: 4 }
const DEFAULT_MAX_SOLUTIONS = 10

const isOpen = (stage: GivenStage | OpenStage): stage is OpenStage => 'find' in stage

function chosenStage({ ratio, numerator, denominator }: Choice, find: Find, index: number): ChosenStage {
  const chosen = { pointer: `#/stages/${index}`, ratio }
  if (numerator === undefined || denominator === undefined) return chosen
  return typeof find === 'object' && 'driving' in find
    ? { ...chosen, teeth: { driving: numerator, driven: denominator } }
    : { ...chosen, multiply: numerator, divide: denominator }
}

/** Note on an offset that spreads the errors wider than the aim, which no ratio can correct. */
function offsetNote(
  { minFraction, maxFraction, offset }: Aim & { readonly offset: OffsetRange },
  judgedMPerS: readonly number[],
  unit: UnitKey<'speed'>,
): Note | undefined {
  const wanted = maxFraction - minFraction
  const spread = offset.maxFraction - offset.minFraction
  if (spread <= wanted + ROUNDING) return undefined
  const [lowest, highest] = [judgedMPerS[0]!, judgedMPerS.at(-1)!]
  return cautionNote(
    'offset-beyond-aim',
    `The offset of the head alone changes its error by ${percentText(spread)} between ${speedText(unit, lowest)} and ${speedText(unit, highest)}, but the aim spans only ${percentText(wanted)}: no ratio brings every speed within the aim. Have the zero of the head set first.`,
  )
}

const NOTHING_WITHIN_AIM: Note = cautionNote(
  'nothing-within-aim',
  'No candidate lies within the aim; the nearest are listed. Give more gears or ratios, open another stage, or widen the aim.',
)

/** The speeds at which a vehicle check judges its remedies, and the requested ones. */
function judgedOf({ head, speedsMPerS = [] }: SolutionRequest): readonly number[] {
  const { unit, dialMaxMPerS } = head
  const round = tableSpeeds(unit, topJudgedMPerS({ dialMaxMPerS }))
  return judgedSpeeds([...round, ...speedsMPerS].sort((a, b) => a - b))
}

/** A path with open stages. */
interface OpenPath {
  readonly open: ReadonlyArray<{ readonly stage: OpenStage; readonly index: number }>
  /** What the dial reads with a choice for each open stage. */
  readonly lineOf: (choices: readonly Choice[]) => Response
}

function openPath(turnsPerM: Figure, given: SolutionRequest['stages'], head: Head): OpenPath {
  const stagesWith = (choices: readonly Choice[]): Stage[] => {
    let next = 0
    return given.map((stage, index) =>
      isOpen(stage)
        ? { kind: stage.kind, name: stageName(stage, index), ratio: exact(choices[next++]!.ratio) }
        : givenStage(stage, index),
    )
  }
  return {
    open: given.flatMap((stage, index) => (isOpen(stage) ? [{ stage, index }] : [])),
    lineOf: (choices) => response(pathOutput(turnsPerM, stagesWith(choices)).outputPerM, head),
  }
}

/**
 * Finds gears, adapters or scaler settings with which a head reads as aimed.
 *
 *     exact = the product of the open stages at which indicated/true = 1, apart from the offset
 *
 * The aim is judged at the round speeds of the dial from 20 km/h up and at the speeds asked for.
 *
 * @param request - Tire, stages of which one or more are open, head, speeds [m/s], rules, aim [%]
 * @param table - Finds tire sizes that no formula covers
 * @returns Candidates, best first: within the aim, then over-reading, then under-reading
 * @throws {DomainError} those of `solveStages`, `tireGeometry` and `givenRule`; `path-order`, `head-does-not-fit-path`, `rule-needs-dial-max`
 * @see US Army TM 5-3820-256-24-4 (a new final drive or tire size needs a new adapter, sometimes a new driven gear)
 * @example solveDrivePath({ tire: { turnsPerM: exact(0.5) }, stages: [{ kind: 'adapter', find: 'exact' }], head: { input: 'turns', constantPerM: exact(0.6), unit: 'kmh' } }, builtInSizes).exact // 1.2 ± 1e-12
 */
export function solveDrivePath(request: SolutionRequest, table: SizeTable): PathSolution {
  const geometry = tireGeometryAt('/tire', request.tire, table)
  const head = givenHead(request.head)
  checkHeadFits(signalOf(request.stages.map(({ kind }) => kind)), head)
  const rules = givenRules(request.rules)
  const judged = judgedOf(request)
  const { min, max } = request.aim?.overReadPercent ?? DEFAULT_AIM
  const offset = offsetRange(head.offsetMPerS.value, judged)
  const aim = { minFraction: min / 100, maxFraction: max / 100, offset }
  const { open, lineOf } = openPath(geometry.turnsPerM, request.stages, head)
  const exactProduct = 1 / lineOf(open.map(() => ({ ratio: 1 }))).indicatedPerTrue.value
  const { solutions, searched } = solveStages(
    exactProduct,
    open.map(({ stage }) => stage.find),
    aim,
    request.maxResults ?? DEFAULT_MAX_SOLUTIONS,
    open.map(({ index }) => index),
  )
  const candidateOf = ({ choices, errorFraction, withinAim }: Solution): SolutionCandidate => {
    const line = lineOf(choices)
    return {
      stages: open.map(({ stage, index }, place) => chosenStage(choices[place]!, stage.find, index)),
      indicatedPerTrue: line.indicatedPerTrue,
      errorPercent: errorFraction * 100,
      withinAim,
      probabilityOfUnderReading: underReading(readingOf(line), judged).probability,
      verdicts: ruleVerdicts(rules, line, { dialMaxMPerS: head.dialMaxMPerS }),
    }
  }
  const notes: Note[] = [...geometry.notes]
  const spread = offsetNote(aim, judged, request.head.unit)
  if (spread !== undefined) notes.push(spread)
  else if (solutions.every(({ withinAim }) => !withinAim)) notes.push(NOTHING_WITHIN_AIM)
  if (rules.length > 0) notes.push(RULES_CAUTION)
  return {
    exact: exactProduct,
    candidates: solutions.map(candidateOf),
    searched,
    sources: [
      ...geometry.sources,
      'eu-165-2014',
      'tm-5-3820-256-24-4',
      'continued-fractions',
      ...ruleSources(rules),
    ],
    notes,
  }
}
