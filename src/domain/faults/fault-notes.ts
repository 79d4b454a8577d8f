import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import { orderedSources, type SourceId } from '../measure/sources.js'
import type { Chain } from './chain.js'
import type { FaultTest, Hazard } from './fault-tests.js'

/** The test or symptom of an observation. */
interface Seen {
  readonly test: string
}

/**
 * Sources of the probabilities: default weights, built-in tests, the caller's own.
 *
 *     source of the weights unless all are given;  of the built-in tests unless all are the caller's
 *
 * @param chain - Chain
 * @param tests - Tests of the chain
 * @param observations - Results so far
 * @returns Ids, in the order of the table of sources
 * @see JCGM 100:2008, 7.1.4 (a result is reported with all that it is based on)
 * @example faultSources(chainOf([{ kind: 'head', prior: 1 }]), [], []) // ["definitions","caller-reading","half-split-testing","information-entropy"]
 */
export function faultSources(
  chain: Chain,
  tests: readonly FaultTest[],
  observations: readonly Seen[],
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
  'raised-car': cautionNote(
    'raised-car',
    'Put the raised car on stands, on level ground, with the wheels chocked; never work on a jack alone. Never let the engine drive while only one driven wheel is raised: keep the gearbox in neutral and turn the wheel by hand.',
  ),
  'rotating-parts': cautionNote(
    'rotating-parts',
    'Keep hands, hair and clothes away from turning shafts and cores; a core that jams while a drill turns it whips.',
  ),
  'live-circuit': cautionNote(
    'live-circuit',
    'Measure live circuits through a fuse. Disconnect the battery before you unplug or swap parts.',
  ),
  'one-direction-of-rotation': cautionNote(
    'one-direction-of-rotation',
    'The layers of a flexible shaft tighten in one direction of rotation only: drive it in the direction it turns in the car, or it unwinds and breaks.',
  ),
}

/**
 * What to know and to heed before the next test.
 *
 *     a caution for each hazard of an open test;  notes on defaults, interactions and repeated observations
 *
 * @param chain - Chain
 * @param tests - Tests of the chain
 * @param observations - Results so far
 * @param open - Informative tests not yet done
 * @returns Notes
 * @see US War Department TM 9-1829A (1944); common practice, no source
 * @example faultNotes(chainOf([{ kind: 'head', prior: 1 }]), [], [], []).map(({ code }) => code) // ["one-fault-assumed"]
 */
export function faultNotes(
  chain: Chain,
  tests: readonly FaultTest[],
  observations: readonly Seen[],
  open: readonly { readonly test: FaultTest }[],
): Note[] {
  const notes: Note[] = [
    infoNote(
      'one-fault-assumed',
      'The search assumes that one link is at fault. After the repair, test the whole drive; if it still fails, start again without these observations.',
    ),
  ]
  if (chain.links.some(({ priorGiven }) => !priorGiven)) {
    notes.push(
      infoNote(
        'default-priors',
        'How often each kind of link fails is taken from common practice, no source; give prior with a link to use your own weight.',
      ),
    )
  }
  if (tests.some(({ origin }) => origin !== 'own')) {
    notes.push(
      infoNote(
        'default-test-figures',
        'Minutes, sensitivity and false-alarm rates of the built-in tests are taken from common practice, no source; give a test of the same id under tests to use your own figures.',
      ),
    )
  }
  if (chain.added !== undefined) {
    notes.push(
      infoNote(
        'interaction-added',
        `A fault that shows only when parts run together counts as one more link, "${chain.links[chain.added.link]!.name}", between any of the parts. Give a link of kind interaction to name its parts, or one with prior 0 to leave it out.`,
      ),
    )
  }
  if (!chain.links.some(({ kind }) => kind === 'interaction') && chain.line.length > 1) {
    notes.push(
      infoNote(
        'interaction-left-out',
        'This chain leaves out faults that show only when parts run together; add a link of kind interaction to allow for them.',
      ),
    )
  }
  const seen = observations.map(({ test }) => test)
  if (new Set(seen).size < seen.length) {
    notes.push(
      cautionNote(
        'observation-repeated',
        'A test was observed more than once. Each observation counts as independent, but a second look at the same part seldom is, so the probabilities are overconfident.',
      ),
    )
  }
  for (const hazard of Object.keys(HAZARDS) as Hazard[])
    if (open.some(({ test }) => test.hazards.includes(hazard))) notes.push(HAZARDS[hazard])
  return notes
}
