import { DomainError } from '../errors.js'
import type { Note } from '../measure/notes.js'
import { orderedSources, type SourceId } from '../measure/sources.js'
import type { Mutable } from '../mutable.js'
import { entropyBits, informationBits, updated } from './bayes.js'
import { type Chain, chainOf, type LinkGiven } from './chain.js'
import {
  type FaultTest,
  failAtPlaces,
  failGiven,
  type Hazard,
  type TestGiven,
  testsOf,
} from './fault-tests.js'
import { type InteractionAdvice, interactionAdvice } from './interaction.js'
import { expectedMinutes, MIN_BITS, type Split } from './lookahead.js'
import { SYMPTOMS, type SymptomId, symptomGiven } from './symptoms.js'

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
  /** Likeliest links after it, at most three. */
  readonly leading: readonly LinkProbability[]
  /** The likeliest link would then count as found. */
  readonly isolates: boolean
}

export interface RankedTest {
  readonly test: FaultTest
  readonly bits: number
  readonly bitsPerMinute: number
  /** Expected minutes to isolation when this test is done next, this one included; absent for those not worth following. */
  readonly expectedMinutes?: number
  readonly ifFail: Outcome
  readonly ifPass: Outcome
}

export type Status = 'isolated' | 'test-on' | 'no-test-helps'

/** What one observation did. */
export interface Step {
  readonly observation: Observation
  /** How likely it was, by what was known before it. */
  readonly probability: number
  readonly entropyBits: number
  readonly suspect: LinkProbability
}

/** A symptom that was not yet said to be present or absent. */
export interface OpenSymptom {
  readonly id: SymptomId
  readonly text: string
  readonly bits: number
}

export interface FaultState {
  readonly chain: Chain
  /** Probability of each link, in the order of the chain. */
  readonly probabilities: readonly number[]
  readonly entropyBits: number
  readonly status: Status
  /** The likeliest link. */
  readonly suspect: LinkProbability
  /** What may be behind the suspect, where it is found and is an interaction of mechanical parts. */
  readonly interaction?: InteractionAdvice
  /** What each observation did, in their order. */
  readonly steps: readonly Step[]
  /** Symptoms to ask for, those that tell most first: they cost nothing. */
  readonly symptoms: readonly OpenSymptom[]
  /** Tests not yet done that tell anything, most information per minute first. */
  readonly ranked: readonly RankedTest[]
  /** The test to do: least expected minutes to isolation; absent when there is no need or no use. */
  readonly next?: RankedTest
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/** Probability at which a link counts as found, unless the caller says otherwise. */
export const STOP_AT = 0.95

/** Tests that the look-ahead follows to the end: those of the least expected minutes at a first look. */
const LOOKED_AT = 12

/** Up to so many open tests the look-ahead goes three tests deep, a twentieth of a second; beyond, two. */
const MAX_FOR_THREE_AHEAD = 24

/** Minutes by which expected times must differ to be told apart: below it the test that tells more per minute goes first. */
const SAME_MINUTES = 1e-9

const isSymptom = (id: string): id is SymptomId => Object.hasOwn(SYMPTOMS, id)

/** Probability of each place of an interaction that was put in, when that is at fault; empty without one. */
type Places = readonly number[]

/** P(test fails | link i at fault); an interaction that was put in fails it as its places do, each as likely as it is by now. */
function failGivenNow(test: FaultTest, chain: Chain, places: Places): number[] {
  const out = failGiven(test, chain.links.length)
  if (chain.putIn !== undefined) {
    const atPlaces = failAtPlaces(test, chain.putIn)
    out[chain.putIn.link] = places.reduce((sum, p, k) => sum + p * atPlaces[k]!, 0)
  }
  return out
}

/** The test or the symptom that was observed, and whether it failed or was present. */
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

/** Bayes after each observation in turn. */
function stepsOf(
  chain: Chain,
  tests: ReadonlyMap<string, FaultTest>,
  observations: readonly Observation[],
): { steps: Step[]; probabilities: number[]; places: Places } {
  let probabilities = chain.links.map(({ prior }) => prior)
  const count = chain.putIn?.places.length ?? 0
  let places: Places = new Array<number>(count).fill(1 / count)
  const steps = observations.map((observation, index): Step => {
    const { of, yes } = observed(observation, index, tests)
    const likelihood = (given: readonly number[]) => (yes ? given : given.map((p) => 1 - p))
    const given = typeof of === 'string' ? symptomGiven(of, chain) : failGivenNow(of, chain, places)
    const after = updated(probabilities, likelihood(given))
    // Below this the quotient of two such small numbers is noise.
    if (after.probability < 1e-12) {
      throw new DomainError(
        'observations-contradict',
        `observations: "${observation.test}" with result "${observation.result}" is impossible after those before it, whichever link is at fault`,
        { pointer: `/observations/${index}` },
      )
    }
    probabilities = after.probabilities
    if (chain.putIn !== undefined && typeof of !== 'string') {
      const found = updated(places, likelihood(failAtPlaces(of, chain.putIn)))
      // Where no place is possible the interaction is not, and it no longer matters where it would be.
      if (found.probability > 0) places = found.probabilities
    }
    return {
      observation,
      probability: after.probability,
      entropyBits: entropyBits(probabilities),
      suspect: leadingOf(chain, probabilities, 1)[0]!,
    }
  })
  return { steps, probabilities, places }
}

/** Symptoms that would tell something, were they asked for. */
function openSymptoms(
  chain: Chain,
  probabilities: readonly number[],
  done: ReadonlySet<string>,
): OpenSymptom[] {
  return (Object.keys(SYMPTOMS) as SymptomId[])
    .filter((id) => !done.has(id))
    .map((id) => ({
      id,
      text: SYMPTOMS[id].text,
      bits: informationBits(probabilities, symptomGiven(id, chain)),
    }))
    .filter(({ bits }) => bits >= MIN_BITS)
    .sort((a, b) => b.bits - a.bits || (a.id < b.id ? -1 : 1))
}

interface OpenTest extends Split {
  readonly test: FaultTest
}

/** Expected minutes to isolation of the tests that come into question as the next. */
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
    .slice(0, LOOKED_AT)
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
    bits,
    bitsPerMinute: bits / test.minutes,
    ifFail: outcome(fails),
    ifPass: outcome(fails.map((p) => 1 - p)),
  }
  if (minutesToIsolation !== undefined) ranked.expectedMinutes = minutesToIsolation
  return ranked
}

function leadingOf(chain: Chain, probabilities: readonly number[], most: number): LinkProbability[] {
  return probabilities
    .map((probability, i) => ({ name: chain.links[i]!.name, probability }))
    .sort((a, b) => b.probability - a.probability)
    .slice(0, most)
}

/**
 * What is known of a fault after some observations, and which test to do next.
 *
 *     P(link | observations) by Bayes;  tests ranked by I/minutes;  next = least expected minutes to isolation
 *
 * I is the information that a test is expected to give.
 *
 * The test to do is not always the first in rank: information per minute looks one step ahead, and costs a tenth more time than the optimum on
 * the average, a third more on some chains; `expectedMinutes` mends that. One link is taken to be at fault; a fault that shows only when parts are
 * together is a link of its own, of kind `interaction`, which mechanical chains have unless the caller gives one with the prior 0. Tests are taken to err independently. The caller keeps the observations and sends all of them.
 *
 * @param given - Links from wheel to dial, 1 to 20
 * @param observations - Results so far, in the order in which they came
 * @param own - The caller's tests and figures
 * @param stopAt - Probability at which a link counts as found. [0.5 .. 0.999]
 * @returns Probabilities, status, ranked tests with what each outcome would mean, the test to do
 * @throws {DomainError} those of `chainOf` and `testsOf`; `test-unknown`, `result-test-mismatch`, `observations-contradict`
 * @see Bayes' rule; Shannon (1948); half-split: US Army IT0338; figures of links and tests are common practice, no source
 * @example nextTest([{ kind: 'lower-cable' }, { kind: 'head' }], [{ test: 'draw-core/lower-cable', result: 'fail' }]).suspect.name // "lower-cable"
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
    status: isolated ? 'isolated' : ranked.length > 0 ? 'test-on' : 'no-test-helps',
    suspect,
    steps,
    symptoms: openSymptoms(chain, probabilities, done),
    ranked,
    sources: sourcesOf(chain, tests, observations),
    notes: notesOf(chain, tests, observations, ranked),
  }
  if (isolated) {
    const position = chain.links.findIndex(({ name }) => name === suspect.name)
    const advice = interactionAdvice(chain, position, places)
    if (advice !== undefined) state.interaction = advice
  }
  if (state.status === 'test-on') {
    const least = Math.min(...minutes.values())
    state.next = ranked.find(({ test }) => minutes.get(test)! <= least + SAME_MINUTES)!
  }
  return state
}

function sourcesOf(
  chain: Chain,
  tests: readonly FaultTest[],
  observations: readonly Observation[],
): SourceId[] {
  const sources: SourceId[] = ['definitions', 'information-entropy', 'half-split-testing']
  const byId = new Set(tests.map(({ id }) => id))
  const defaultPrior = chain.links.some(({ priorGiven }) => !priorGiven)
  if (defaultPrior || observations.some(({ test }) => !byId.has(test))) sources.push('fault-priors')
  if (tests.some(({ origin }) => origin !== 'own')) sources.push('fault-tests', 'tm-9-1829a')
  if (!defaultPrior || observations.length > 0 || tests.some(({ origin }) => origin !== 'built-in'))
    sources.push('caller-reading')
  return orderedSources(sources)
}

const HAZARDS: Readonly<Record<Hazard, Note>> = {
  'raised-car': {
    code: 'raised-car',
    level: 'caution',
    text: 'Work under or beside a raised car on stands only, on level ground, wheels chocked; never on a jack alone. With one driven wheel raised the other must not drive: keep the gearbox in neutral and turn the wheel by hand.',
  },
  'rotating-parts': {
    code: 'rotating-parts',
    level: 'caution',
    text: 'Keep hands, hair and clothes away from turning shafts and cores; a core that jams in a drill whips.',
  },
  'live-circuit': {
    code: 'live-circuit',
    level: 'caution',
    text: 'Measure live circuits through a fuse; take the battery off before parts are unplugged or swapped.',
  },
  'one-hand-of-rotation': {
    code: 'one-hand-of-rotation',
    level: 'caution',
    text: 'The layers of a flexible shaft tighten in one hand of rotation only: drive it in the hand in which it runs in the car, or it unwinds and breaks.',
  },
}

function notesOf(
  chain: Chain,
  tests: readonly FaultTest[],
  observations: readonly Observation[],
  ranked: readonly RankedTest[],
): Note[] {
  const notes: Note[] = [
    {
      code: 'one-fault-assumed',
      level: 'info',
      text: 'One link is taken to be at fault. After the repair test the whole; if it still fails, begin again without these observations.',
    },
  ]
  if (chain.links.some(({ priorGiven }) => !priorGiven)) {
    notes.push({
      code: 'usual-priors',
      level: 'info',
      text: 'How often each kind of link is at fault is common practice, no source; give prior with a link to use your own weights.',
    })
  }
  if (tests.some(({ origin }) => origin !== 'own')) {
    notes.push({
      code: 'usual-test-figures',
      level: 'info',
      text: 'Minutes, sensitivity and false-alarm rates of the built-in tests are common practice, no source; give a test of the same id under tests to use your own figures.',
    })
  }
  if (chain.putIn !== undefined) {
    notes.push({
      code: 'interaction-put-in',
      level: 'info',
      text: `A fault that shows only when parts are together counts as a link too, "${chain.links[chain.putIn.link]!.name}", wherever it is. Give a link of kind interaction to say between which parts, with prior 0 to leave it out.`,
    })
  }
  if (!chain.links.some(({ kind }) => kind === 'interaction') && chain.line.length > 1) {
    notes.push({
      code: 'interaction-left-out',
      level: 'info',
      text: 'A fault that shows only when the parts are together is no part of this chain; add a link of kind interaction to allow for it.',
    })
  }
  const seen = observations.map(({ test }) => test)
  if (new Set(seen).size < seen.length) {
    notes.push({
      code: 'observation-repeated',
      level: 'caution',
      text: 'A test was observed more than once: each counts as if it erred independently, which a second look at the same part seldom does, so the probabilities are too sure.',
    })
  }
  for (const hazard of Object.keys(HAZARDS) as Hazard[])
    if (ranked.some(({ test }) => test.hazards.includes(hazard))) notes.push(HAZARDS[hazard])
  return notes
}
