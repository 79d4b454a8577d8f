import { DomainError } from '../errors.js'
import type { Note } from '../measure/notes.js'
import type { SourceId } from '../measure/sources.js'
import type { Mutable } from '../mutable.js'
import { entropyBits, informationBits, updated } from './bayes.js'
import { type Chain, chainOf, type LinkGiven } from './chain.js'
import { faultNotes, faultSources } from './fault-notes.js'
import { type FaultTest, failAtPlaces, failGiven, type TestGiven, testsOf } from './fault-tests.js'
import { type InteractionAdvice, interactionAdvice } from './interaction.js'
import { expectedMinutes, MIN_BITS, type Split } from './lookahead.js'
import { SYMPTOMS, type SymptomId, symptomGiven, symptomsOf } from './symptoms.js'

export type Result = 'fail' | 'pass' | 'present' | 'absent'

export interface Observation {
  /** Id of a test or of a symptom. */
  readonly test: string
  readonly result: Result
}

export interface LinkProbability {
  readonly name: string
  readonly probability: number
}

/** What one outcome of a test would mean. */
export interface Outcome {
  readonly probability: number
  /** The likeliest links after it, at most three. */
  readonly leading: readonly LinkProbability[]
  /** Whether the likeliest link then counts as found. */
  readonly isolates: boolean
}

export interface RankedTest {
  readonly test: FaultTest
  readonly informationBits: number
  readonly bitsPerMinute: number
  /** Expected minutes to isolation when this test is done next, this one included; absent where the look-ahead does not follow the test. */
  readonly expectedMinutes?: number
  readonly ifFail: Outcome
  readonly ifPass: Outcome
}

export type Status = 'isolated' | 'continue' | 'inconclusive'

/** What one observation did. */
export interface Step extends Observation {
  /** Probability of the observation, given those before it. */
  readonly probability: number
  readonly entropyBits: number
  readonly suspect: LinkProbability
}

/** A symptom not yet observed, present or absent. */
export interface OpenSymptom {
  readonly test: SymptomId
  readonly text: string
  readonly informationBits: number
}

export interface FaultState {
  readonly chain: Chain
  /** Probability of each link, in the order of the chain. */
  readonly probabilities: readonly number[]
  readonly entropyBits: number
  readonly status: Status
  /** The likeliest link. */
  readonly suspect: LinkProbability
  /** Possible causes, where the link found is an interaction of mechanical parts. */
  readonly interaction?: InteractionAdvice
  /** What each observation did, in their order. */
  readonly steps: readonly Step[]
  /** Symptoms to ask about, most informative first: asking costs no time. */
  readonly symptoms: readonly OpenSymptom[]
  /** Informative tests not yet done, most information per minute first. */
  readonly ranked: readonly RankedTest[]
  /** The test to do: minimum expected minutes to isolation; absent once a link is found, or when no test is informative. */
  readonly next?: RankedTest
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/** Probability at which a link counts as found, unless the caller gives another. */
export const STOP_AT = 0.95

/** Tests that the look-ahead follows to the end: those with the fewest expected minutes one step ahead. */
const FOLLOWED = 12

/** Up to this many open tests the look-ahead goes three tests deep, which takes a twentieth of a second; with more, two. */
const MAX_FOR_THREE_AHEAD = 24

/** Expected times that differ by less count as equal: then the test with more information per minute goes first [min]. */
const SAME_MINUTES = 1e-9

const isSymptom = (id: string): id is SymptomId => Object.hasOwn(SYMPTOMS, id)

/** Probability of each place of an interaction that was added, given that it is at fault; empty without one. */
type Places = readonly number[]

/** P(test fails | link i at fault); for an interaction that was added, the mean over its places, weighted by their present probabilities. */
function failGivenNow(test: FaultTest, chain: Chain, places: Places): number[] {
  const out = failGiven(test, chain.links.length)
  if (chain.added !== undefined) {
    const atPlaces = failAtPlaces(test, chain.added)
    out[chain.added.link] = places.reduce((sum, p, k) => sum + p * atPlaces[k]!, 0)
  }
  return out
}

/** The test or the symptom observed, and whether it failed or was present. */
function observed(
  { test, result }: Observation,
  index: number,
  tests: ReadonlyMap<string, FaultTest>,
): { of: FaultTest | SymptomId; yes: boolean } {
  const pointer = `/observations/${index}`
  const known = tests.get(test)
  if (known === undefined && !isSymptom(test)) {
    throw new DomainError(
      'test-unknown',
      `observations: "${test}" is neither a test of this chain nor a symptom; tests are ${[...tests.keys()].map((id) => `"${id}"`).join(', ')}; symptoms are ${Object.keys(SYMPTOMS).join(', ')}`,
      { pointer: `${pointer}/test`, test },
    )
  }
  const [yes, no] = known === undefined ? (['present', 'absent'] as const) : (['fail', 'pass'] as const)
  if (result !== yes && result !== no) {
    throw new DomainError(
      'result-test-mismatch',
      `observations: the ${known === undefined ? 'symptom' : 'test'} "${test}" takes "${yes}" or "${no}", got "${result}"`,
      { pointer: `${pointer}/result`, test, result },
    )
  }
  return { of: known ?? (test as SymptomId), yes: result === yes }
}

/** Applies Bayes' rule to each observation in turn. */
function stepsOf(
  chain: Chain,
  tests: ReadonlyMap<string, FaultTest>,
  observations: readonly Observation[],
): { steps: Step[]; probabilities: number[]; places: Places } {
  let probabilities = chain.links.map(({ prior }) => prior)
  const count = chain.added?.places.length ?? 0
  let places: Places = new Array<number>(count).fill(1 / count)
  const steps = observations.map((observation, index): Step => {
    const { of, yes } = observed(observation, index, tests)
    const likelihood = (given: readonly number[]) => (yes ? given : given.map((p) => 1 - p))
    const given = typeof of === 'string' ? symptomGiven(of, chain) : failGivenNow(of, chain, places)
    const after = updated(probabilities, likelihood(given))
    // The quotient of two numbers below this is rounding noise.
    if (after.probability < 1e-12) {
      throw new DomainError(
        'observations-contradict',
        `observations: "${observation.test}" with result "${observation.result}" is impossible after those before it, whichever link is at fault; check both results`,
        { pointer: `/observations/${index}` },
      )
    }
    probabilities = after.probabilities
    if (chain.added !== undefined && typeof of !== 'string') {
      const found = updated(places, likelihood(failAtPlaces(of, chain.added)))
      // Where no place is possible, neither is the interaction, and its place no longer matters.
      if (found.probability > 0) places = found.probabilities
    }
    return {
      test: observation.test,
      result: observation.result,
      probability: after.probability,
      entropyBits: entropyBits(probabilities),
      suspect: leadingOf(chain, probabilities, 1)[0]!,
    }
  })
  return { steps, probabilities, places }
}

/** Informative symptoms not yet observed. */
function openSymptoms(
  chain: Chain,
  probabilities: readonly number[],
  done: ReadonlySet<string>,
): OpenSymptom[] {
  return symptomsOf(chain)
    .filter((id) => !done.has(id))
    .map((id) => ({
      test: id,
      text: SYMPTOMS[id].text,
      informationBits: informationBits(probabilities, symptomGiven(id, chain)),
    }))
    .filter(({ informationBits }) => informationBits >= MIN_BITS)
    .sort((a, b) => b.informationBits - a.informationBits || (a.test < b.test ? -1 : 1))
}

interface OpenTest extends Split {
  readonly test: FaultTest
}

/** Expected minutes to isolation of the candidates for the next test. */
function minutesByTest(
  open: readonly OpenTest[],
  probabilities: readonly number[],
  stopAt: number,
): Map<FaultTest, number> {
  const minutes = (one: OpenTest, ahead: number) =>
    expectedMinutes(
      probabilities,
      one,
      open.filter((other) => other !== one),
      stopAt,
      ahead,
    )
  const first = open
    .map((one) => ({ one, glance: minutes(one, 1) }))
    .sort((a, b) => a.glance - b.glance || (a.one.test.id < b.one.test.id ? -1 : 1))
    .slice(0, FOLLOWED)
  const ahead = open.length <= MAX_FOR_THREE_AHEAD ? 3 : 2
  return new Map(first.map(({ one }) => [one.test, minutes(one, ahead)]))
}

function rank(
  { test, failGiven: fails }: OpenTest,
  chain: Chain,
  probabilities: readonly number[],
  minutesToIsolation: number | undefined,
  stopAt: number,
): RankedTest {
  const outcome = (given: readonly number[]): Outcome => {
    const { probabilities: after, probability } = updated(probabilities, given)
    const leading = leadingOf(chain, after, 3)
    return { probability, leading, isolates: leading[0]!.probability >= stopAt }
  }
  const bits = informationBits(probabilities, fails)
  const ranked: Mutable<RankedTest> = {
    test,
    informationBits: bits,
    bitsPerMinute: bits / test.minutes,
    ifFail: outcome(fails),
    ifPass: outcome(fails.map((p) => 1 - p)),
  }
  if (minutesToIsolation !== undefined) ranked.expectedMinutes = minutesToIsolation
  return ranked
}

function leadingOf(chain: Chain, probabilities: readonly number[], max: number): LinkProbability[] {
  return probabilities
    .map((probability, i) => ({ name: chain.links[i]!.name, probability }))
    .sort((a, b) => b.probability - a.probability)
    .slice(0, max)
}

/**
 * Probability that each link is at fault after the observations so far, and the next test to do.
 *
 *     P(link | observations) by Bayes' rule;  tests ranked by I/minutes;  next = minimum expected minutes to isolation
 *
 * I is the expected information gain of a test.
 *
 * The next test is not always the first in rank. Information per minute looks one step ahead: it takes a tenth more time than the optimum on
 * average, and a third more on some chains. `expectedMinutes` looks further. The method assumes that one link is at fault. A fault that shows only
 * when parts run together is a link of kind `interaction`, which mechanical chains have unless the caller gives one with the prior 0. Tests are
 * assumed to err independently. The service stores no observations: the caller sends all of them.
 *
 * @param given - Links from wheel to dial, 1 to 20
 * @param observations - Results so far, in order
 * @param own - Tests and figures from the caller
 * @param stopAt - Probability at which a link counts as found. [0.5 .. 0.999]
 * @returns Probabilities, status, ranked tests with the result of each outcome, the next test
 * @throws {DomainError} those of `chainOf` and `testsOf`; `test-unknown`, `result-test-mismatch`, `observations-contradict`
 * @see Bayes' rule; Shannon (1948); half-split: US Army IT0338; default weights and test figures are common practice, no source
 * @example nextTest([{ kind: 'gearbox-drive' }, { kind: 'cable' }, { kind: 'head' }], [{ test: 'draw-core/cable', result: 'fail' }]).suspect.name // "cable"
 * @example nextTest([{ kind: 'head' }], [{ test: 'x-ray', result: 'fail' }]) // throws test-unknown
 */
export function nextTest(
  given: readonly LinkGiven[],
  observations: readonly Observation[],
  own: readonly TestGiven[] = [],
  stopAt = STOP_AT,
): FaultState {
  const chain = chainOf(given)
  const tests = testsOf(chain, own)
  const byId = new Map(tests.map((test) => [test.id, test]))
  const { steps, probabilities, places } = stepsOf(chain, byId, observations)
  const done = new Set(observations.map(({ test }) => test))
  const open = tests
    .filter(({ id }) => !done.has(id))
    .map((test) => ({ test, minutes: test.minutes, failGiven: failGivenNow(test, chain, places) }))
    .filter((one) => informationBits(probabilities, one.failGiven) >= MIN_BITS)
  const suspect = leadingOf(chain, probabilities, 1)[0]!
  const isolated = suspect.probability >= stopAt
  const minutes = isolated ? new Map<FaultTest, number>() : minutesByTest(open, probabilities, stopAt)
  const ranked = open
    .map((one) => rank(one, chain, probabilities, minutes.get(one.test), stopAt))
    .sort((a, b) => b.bitsPerMinute - a.bitsPerMinute || (a.test.id < b.test.id ? -1 : 1))
  const state: Mutable<FaultState> = {
    chain,
    probabilities,
    entropyBits: entropyBits(probabilities),
    status: isolated ? 'isolated' : ranked.length > 0 ? 'continue' : 'inconclusive',
    suspect,
    steps,
    symptoms: openSymptoms(chain, probabilities, done),
    ranked,
    sources: faultSources(chain, tests, observations),
    notes: faultNotes(chain, tests, observations, ranked),
  }
  if (isolated) {
    const position = chain.links.findIndex(({ name }) => name === suspect.name)
    const advice = interactionAdvice(chain, position, places)
    if (advice !== undefined) state.interaction = advice
  }
  if (state.status === 'continue') {
    const minimum = Math.min(...minutes.values())
    state.next = ranked.find(({ test }) => minutes.get(test)! <= minimum + SAME_MINUTES)!
  }
  return state
}
