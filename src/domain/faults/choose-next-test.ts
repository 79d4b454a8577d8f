import type { Note } from '../measure/notes.js'
import type { SourceId } from '../measure/sources.js'
import type { Mutable } from '../mutable.js'
import type { LinkGiven, LinkKind } from './chain.js'
import type { TestGiven } from './fault-tests.js'
import type { InteractionAdvice } from './interaction.js'
import {
  type FaultState,
  type LinkProbability,
  nextTest,
  type Observation,
  type OpenSymptom,
  type Outcome,
  type RankedTest,
  STOP_AT,
  type Status,
  type Step,
} from './next-test.js'

export interface NextTestRequest {
  /** Links from wheel to dial. */
  readonly chain: readonly LinkGiven[]
  /** Results so far, in order. Left out: none. */
  readonly observations?: readonly Observation[]
  /** Tests and figures from the caller. Left out: the built-in tests. */
  readonly tests?: readonly TestGiven[]
  /** Probability at which a link counts as found. Left out: 0.95. */
  readonly stopAt?: number
}

/** Where a figure comes from: built in, or the caller. */
type FigureStanding = 'common-practice' | 'user'

export interface TestRow {
  readonly test: string
  readonly text: string
  /** Names of the links whose fault makes it fail. */
  readonly covers: readonly string[]
  readonly minutes: number
  readonly sensitivity: number
  readonly falseAlarm: number
  readonly standing: FigureStanding
  readonly informationBits: number
  readonly bitsPerMinute: number
  readonly ifFail: Outcome
  readonly ifPass: Outcome
  /** Absent where the look-ahead does not follow the test. */
  readonly expectedMinutes?: number
}

export interface LinkRow {
  readonly name: string
  readonly kind: LinkKind
  /** Probability before any observation. */
  readonly prior: number
  readonly priorStanding: FigureStanding
  readonly probability: number
}

export interface NextTest {
  readonly links: readonly LinkRow[]
  readonly entropyBits: number
  readonly status: Status
  readonly stopAt: number
  readonly suspect: LinkProbability
  readonly interaction?: InteractionAdvice
  readonly next?: TestRow
  readonly tests: readonly TestRow[]
  readonly steps: readonly Step[]
  readonly symptoms: readonly OpenSymptom[]
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/**
 * Probability that each link of a drive is at fault after all observations, and the next test, with its links by name.
 *
 *     P(link | observations) by Bayes' rule;  next = minimum expected minutes to isolation
 *
 * @param request - Chain, observations, tests and figures of the caller
 * @returns Links with their probabilities, tests with the result of each outcome, the next test
 * @throws {DomainError} those of `nextTest`
 * @see Bayes' rule; Shannon (1948); half-split: US Army IT0338; default weights and test figures are common practice, no source
 * @example chooseNextTest({ chain: [{ kind: 'gearbox-drive' }, { kind: 'cable' }, { kind: 'head' }], observations: [{ test: 'draw-core/cable', result: 'fail' }] }).suspect.name // "cable"
 * @example chooseNextTest({ chain: [{ kind: 'sensor' }, { kind: 'display', prior: 1 }] }).links[0].prior // 0.75 ± 1e-12
 */
export function chooseNextTest(request: NextTestRequest): NextTest {
  const { chain: given, observations = [], tests = [], stopAt = STOP_AT } = request
  const state = nextTest(given, observations, tests, stopAt)
  const { chain, probabilities, ranked, next, interaction } = state
  const result: Mutable<NextTest> = {
    links: chain.links.map(({ name, kind, prior, priorGiven }, i) => ({
      name,
      kind,
      prior,
      priorStanding: priorGiven ? 'user' : 'common-practice',
      probability: probabilities[i]!,
    })),
    entropyBits: state.entropyBits,
    status: state.status,
    stopAt,
    suspect: state.suspect,
    tests: ranked.map((one) => testRow(one, state)),
    steps: state.steps,
    symptoms: state.symptoms,
    sources: state.sources,
    notes: state.notes,
  }
  if (interaction !== undefined) result.interaction = interaction
  if (next !== undefined) result.next = testRow(next, state)
  return result
}

function testRow(ranked: RankedTest, { chain }: FaultState): TestRow {
  const { test } = ranked
  const row: Mutable<TestRow> = {
    test: test.id,
    text: test.text,
    covers: test.covers.map((i) => chain.links[i]!.name),
    minutes: test.minutes,
    sensitivity: test.sensitivity,
    falseAlarm: test.falseAlarm,
    standing: test.origin === 'built-in' ? 'common-practice' : 'user',
    informationBits: ranked.informationBits,
    bitsPerMinute: ranked.bitsPerMinute,
    ifFail: ranked.ifFail,
    ifPass: ranked.ifPass,
  }
  if (ranked.expectedMinutes !== undefined) row.expectedMinutes = ranked.expectedMinutes
  return row
}
