import { DomainError } from '../errors.js'
import type { Mutable } from '../mutable.js'
import type { AddedInteraction, Chain, Link, LinkKind } from './chain.js'
import { positionOf } from './chain.js'
import { SYMPTOMS } from './symptoms.js'

export type Hazard = 'raised-car' | 'rotating-parts' | 'live-circuit' | 'one-direction-of-rotation'

/** A test of the chain: it fails, or it passes. */
export interface FaultTest {
  readonly id: string
  readonly text: string
  readonly minutes: number
  /** Probability that it fails when it covers the link at fault. */
  readonly sensitivity: number
  /** Probability that it fails although the fault lies elsewhere. */
  readonly falseAlarm: number
  /** Positions of the links that it covers. */
  readonly covers: readonly number[]
  readonly hazards: readonly Hazard[]
  readonly origin: 'built-in' | 'changed' | 'own'
}

/** A test from the caller: a new one, or other figures for a built-in test. */
export interface TestGiven {
  readonly test: string
  readonly text?: string
  readonly minutes?: number
  readonly sensitivity?: number
  readonly falseAlarm?: number
  readonly covers?: readonly string[]
}

interface PartTest {
  readonly code: string
  readonly text: (link: string) => string
  readonly minutes: number
  readonly sensitivity: number
  readonly falseAlarm: number
  readonly hazards: readonly Hazard[]
}

/**
 * Tests of one part, by its kind. Minutes, sensitivity and false-alarm rate are common practice, no source. The quick spin, the kink test and
 * the direction in which a flexible shaft runs are from TM 9-1829A and TM 5-3805-254-14&P-2.
 */
const PART_TESTS: Readonly<Partial<Record<LinkKind, readonly PartTest[]>>> = {
  'gearbox-drive': [
    {
      code: 'look-at-drive',
      text: (link) =>
        `Take ${link} out and look at its gear and its drive end: neither may be worn, and both must turn together.`,
      minutes: 15,
      sensitivity: 0.9,
      falseAlarm: 0.03,
      hazards: ['raised-car'],
    },
  ],
  'hub-drive': [
    {
      code: 'look-at-drive',
      text: (link) =>
        `Take ${link} off. Check that its square or pin is not worn, and that the part it fits into turns with the wheel.`,
      minutes: 10,
      sensitivity: 0.95,
      falseAlarm: 0.02,
      hazards: ['raised-car'],
    },
  ],
  'angle-drive': [
    {
      code: 'turn-alone',
      text: (link) =>
        `Take ${link} off and turn it by hand: it must turn freely, and its output must turn with its input.`,
      minutes: 15,
      sensitivity: 0.85,
      falseAlarm: 0.04,
      hazards: [],
    },
  ],
  cable: [
    {
      code: 'draw-core',
      text: (link) =>
        `Draw the core of ${link}, look for a break, and roll it on a flat surface: a hop shows a kink.`,
      minutes: 15,
      sensitivity: 0.92,
      falseAlarm: 0.03,
      hazards: [],
    },
  ],
  'in-line-unit': [
    {
      code: 'turn-alone',
      text: (link) =>
        `Take ${link} off and turn it by hand: it must turn freely, and its output must turn with its input.`,
      minutes: 15,
      sensitivity: 0.9,
      falseAlarm: 0.03,
      hazards: [],
    },
  ],
  adapter: [
    {
      code: 'turn-alone',
      text: (link) =>
        `Take ${link} off and turn it by hand: it must turn freely, and its output must turn with its input at the stated ratio.`,
      minutes: 15,
      sensitivity: 0.9,
      falseAlarm: 0.03,
      hazards: [],
    },
  ],
  head: [
    {
      code: 'quick-spin',
      text: (link) =>
        `Uncouple ${link} and give its input a quick spin: the pointer should swing to about half scale and fall back to zero at once.`,
      minutes: 8,
      sensitivity: 0.9,
      falseAlarm: 0.05,
      hazards: [],
    },
  ],
  'pulse-ring': [
    {
      code: 'look-at-ring',
      text: (link) =>
        `Look at every tooth of ${link}, its joint and its fastening, and gauge the air gap all round.`,
      minutes: 12,
      sensitivity: 0.9,
      falseAlarm: 0.05,
      hazards: ['raised-car'],
    },
  ],
  sensor: [
    {
      code: 'swap',
      text: (link) => `Fit a known good part in place of ${link} and turn the wheel.`,
      minutes: 15,
      sensitivity: 0.97,
      falseAlarm: 0.02,
      hazards: ['raised-car'],
    },
  ],
  wiring: [
    {
      code: 'continuity',
      text: (link) =>
        `Unplug both ends of ${link}. Measure from end to end and to ground, and bend it at each clip meanwhile.`,
      minutes: 10,
      sensitivity: 0.9,
      falseAlarm: 0.03,
      hazards: [],
    },
  ],
  supply: [
    {
      code: 'voltage-under-load',
      text: (link) =>
        `Measure the voltage of ${link} at its loads while they are on, and the voltage drop of the ground lead.`,
      minutes: 4,
      sensitivity: 0.95,
      falseAlarm: 0.02,
      hazards: ['live-circuit'],
    },
  ],
  controller: [
    {
      code: 'swap',
      text: (link) => `Fit a known good part with the same settings in place of ${link}.`,
      minutes: 20,
      sensitivity: 0.97,
      falseAlarm: 0.02,
      hazards: [],
    },
  ],
  display: [
    {
      code: 'self-test',
      text: (link) => `Let ${link} run its self-test, or feed it a fixed reading.`,
      minutes: 3,
      sensitivity: 0.85,
      falseAlarm: 0.02,
      hazards: [],
    },
  ],
  interaction: [
    {
      code: 'assembled-against-parts',
      text: () =>
        'Measure the torque of each part alone, then of the whole drive in place. If the whole takes more than the sum, the parts bind together.',
      minutes: 45,
      sensitivity: 0.9,
      falseAlarm: 0.05,
      hazards: [],
    },
  ],
}

/** A link in a sentence: its name in quotes, or its kind with an article where the caller gives no name. */
const inWords = ({ name, kind }: Link): string =>
  name === kind ? `the ${kind.replace(/-(?=[^-]*$)/, ' ')}` : `"${name}"`

const built = (test: Omit<FaultTest, 'origin'>): FaultTest => ({ ...test, origin: 'built-in' })

/** Kinds that stand inside the car or under its hood, wherever they are in the chain. */
const INSIDE: ReadonlySet<LinkKind> = new Set(['head', 'supply', 'controller', 'display'])

/** Kinds that lead away from wheel and gearbox: what follows is reached without raising the car. */
const LEADS_AWAY: ReadonlySet<LinkKind> = new Set(['cable', 'wiring'])

/** Whether the end of a link that faces the wheel is reached from under the car; of an interaction: that of any of its links. */
function isReachedFromBelow({ links, line }: Chain, i: number): boolean {
  return (links[i]!.between ?? [i]).some((part) => {
    const place = line.indexOf(part)
    const isOutside = place >= 0 && !INSIDE.has(links[part]!.kind)
    return isOutside && line.slice(0, place).every((before) => !LEADS_AWAY.has(links[before]!.kind))
  })
}

/** The hazards of a test, with that of a raised car where the part is reached from below. */
const hazardsAt = (chain: Chain, i: number, hazards: readonly Hazard[]): readonly Hazard[] =>
  isReachedFromBelow(chain, i) ? [...new Set<Hazard>(['raised-car', ...hazards])] : hazards

/** A stretch of the line covers an interaction when it holds all of its links, and the supply when it holds electronics. */
function covered({ links, line }: Chain, from: number, to: number): number[] {
  const stretch = new Set(line.slice(from, to))
  const electronic = [...stretch].some((i) => links[i]!.electronic)
  const present = (i: number) => stretch.has(i) || (electronic && links[i]!.kind === 'supply')
  return links.flatMap((link, i) => {
    const shows = link.kind === 'interaction' ? link.between!.every(present) : present(i)
    return shows ? [i] : []
  })
}

/** Turn the wheel and look at the output of a link: tests everything up to there, in place. */
function watchAfter(chain: Chain, at: number): FaultTest {
  const link = chain.links[chain.line[at]!]!
  return built({
    id: `watch-after/${link.name}`,
    text: link.electronic
      ? `Turn the raised wheel by hand and measure the signal that leaves ${inWords(link)}.`
      : `Uncouple ${inWords(link)} at its dial end, turn the raised wheel by hand and watch whether that end turns, evenly and freely.`,
    minutes: link.electronic ? 8 : 12,
    sensitivity: 0.95,
    falseAlarm: 0.03,
    covers: covered(chain, 0, at + 1),
    hazards: link.electronic ? ['raised-car', 'live-circuit'] : ['raised-car', 'rotating-parts'],
  })
}

/** Drive a link, or feed it pulses, and read the dial: tests everything from there on, in place. */
function driveFrom(chain: Chain, at: number): FaultTest {
  const link = chain.links[chain.line[at]!]!
  const pulses = link.electronic && link.kind !== 'pulse-ring'
  return built({
    id: `drive-from/${link.name}`,
    text: pulses
      ? `Feed pulses of a known frequency into ${inWords(link)} and read the dial.`
      : `Uncouple ${inWords(link)} from the drive before it, turn its input at a known speed, by drill or by hand, in the direction it turns in the car, and read the dial.`,
    minutes: pulses ? 8 : 10,
    sensitivity: 0.95,
    falseAlarm: 0.03,
    covers: covered(chain, at, chain.line.length),
    hazards: hazardsAt(
      chain,
      chain.line[at]!,
      pulses ? ['live-circuit'] : ['rotating-parts', 'one-direction-of-rotation'],
    ),
  })
}

/**
 * Built-in tests of a chain.
 *
 *     each part alone, by its kind;  after each link but the last, with the wheel turned;  from each link but the first, driven by hand or drill
 *
 * @param chain - Chain
 * @returns Tests, in the order of the chain
 * @see US War Department TM 9-1829A (1944); TM 5-3805-254-14&P-2; figures are common practice, no source
 * @example builtInTests(chainOf([{ kind: 'cable' }, { kind: 'head' }])).map(({ id }) => id) // ["watch-after/cable","drive-from/head","draw-core/cable","quick-spin/head","assembled-against-parts/interaction"]
 */
export function builtInTests(chain: Chain): FaultTest[] {
  const last = chain.line.length - 1
  const stretches = chain.line.flatMap((_, at) => [
    ...(at < last ? [watchAfter(chain, at)] : []),
    ...(at > 0 ? [driveFrom(chain, at)] : []),
  ])
  const parts = chain.links.flatMap((link: Link, i) =>
    (PART_TESTS[link.kind] ?? []).map(({ code, text, hazards, ...rest }) =>
      built({
        ...rest,
        id: `${code}/${link.name}`,
        text: text(inWords(link)),
        covers: [i],
        hazards: hazardsAt(chain, i, hazards),
      }),
    ),
  )
  return [...stretches, ...parts]
}

/** Figures of a test from the caller that states none; common practice, no source. */
const DEFAULTS = { sensitivity: 0.95, falseAlarm: 0.03 }

/**
 * All tests of a chain: the built-in ones, with the caller's figures where given, then those that the caller adds.
 *
 *     P(fail | link) = sensitivity where covered, else falseAlarm
 *
 * @param chain - Chain
 * @param given - Tests from the caller; one with the id of a built-in test changes that test
 * @returns Tests: built-in first, then added
 * @throws {DomainError} `test-repeated`, `test-incomplete`, `link-unknown`, `out-of-range` when a test fails more often without the fault than with it
 * @see figures are common practice, no source, or the caller's
 * @example testsOf(chainOf([{ kind: 'head' }]), [{ test: 'quick-spin/head', minutes: 2 }])[0].minutes // 2 ± 0
 */
export function testsOf(chain: Chain, given: readonly TestGiven[]): FaultTest[] {
  const tests = builtInTests(chain)
  const builtIn = new Map(tests.map((test, i) => [test.id, i]))
  const names = chain.links.map(({ name }) => name)
  const seen = new Set<string>()
  for (const [k, own] of given.entries()) {
    const pointer = `/tests/${k}`
    if (seen.has(own.test) || Object.hasOwn(SYMPTOMS, own.test)) {
      const why = seen.has(own.test) ? 'is given twice' : 'is the name of a symptom'
      throw new DomainError('test-repeated', `tests: "${own.test}" ${why}; give it another id`, {
        pointer: `${pointer}/test`,
        test: own.test,
      })
    }
    seen.add(own.test)
    const at = builtIn.get(own.test)
    const base = at === undefined ? undefined : tests[at]!
    const covers =
      own.covers?.map((name, d) => positionOf(names, name, `${pointer}/covers/${d}`)) ?? base?.covers
    const minutes = own.minutes ?? base?.minutes
    if (covers === undefined || minutes === undefined) {
      throw new DomainError(
        'test-incomplete',
        `tests: "${own.test}" is not a built-in test, so it needs covers and minutes; built-in tests are ${[...builtIn.keys()].map((id) => `"${id}"`).join(', ')}`,
        { pointer, test: own.test },
      )
    }
    const test: Mutable<FaultTest> = {
      id: own.test,
      text: own.text ?? base?.text ?? own.test,
      minutes,
      sensitivity: own.sensitivity ?? base?.sensitivity ?? DEFAULTS.sensitivity,
      falseAlarm: own.falseAlarm ?? base?.falseAlarm ?? DEFAULTS.falseAlarm,
      covers: [...new Set(covers)].sort((a, b) => a - b),
      hazards: base?.hazards ?? [],
      origin: base === undefined ? 'own' : 'changed',
    }
    if (test.falseAlarm > test.sensitivity) {
      throw new DomainError(
        'out-of-range',
        `tests: "${own.test}" fails more often without the fault (falseAlarm ${test.falseAlarm}) than with it (sensitivity ${test.sensitivity}); swap pass and fail`,
        { pointer: `${pointer}/falseAlarm`, max: test.sensitivity, value: test.falseAlarm },
      )
    }
    if (at === undefined) tests.push(test)
    else tests[at] = test
  }
  return tests
}

/**
 * Probability that a test fails, for each link that may be at fault.
 *
 *     P(fail | i) = sensitivity where i is covered, else falseAlarm
 *
 * @param test - Test
 * @param linkCount - Number of links
 * @returns One probability for each link
 * @see definitions of sensitivity and false-alarm rate
 * @example failGiven({ id: 't', text: '', minutes: 1, sensitivity: 0.9, falseAlarm: 0.1, covers: [1], hazards: [], origin: 'own' }, 2) // [0.1,0.9]
 */
export function failGiven(test: FaultTest, linkCount: number): number[] {
  const out = new Array<number>(linkCount).fill(test.falseAlarm)
  for (const i of test.covers) out[i] = test.sensitivity
  return out
}

/**
 * Probability that a test fails, for each place where an interaction that was added may be.
 *
 *     P(fail | place) = sensitivity where the test covers the interaction, or turns all links of the place together; else falseAlarm
 *
 * @param test - Test; what turns together in a test from the caller is unknown, so it covers the interaction by name or not at all
 * @param added - Interaction that was added
 * @returns One probability for each place
 * @see definitions of sensitivity and false-alarm rate
 * @example failAtPlaces({ id: 't', text: '', minutes: 1, sensitivity: 0.9, falseAlarm: 0.1, covers: [0, 1], hazards: [], origin: 'built-in' }, { link: 3, places: [[0, 1], [1, 2]] }) // [0.9,0.1]
 */
export function failAtPlaces(test: FaultTest, added: AddedInteraction): number[] {
  const covered = new Set(test.covers)
  return added.places.map((place) => {
    const shows = covered.has(added.link) || (test.origin !== 'own' && place.every((i) => covered.has(i)))
    return shows ? test.sensitivity : test.falseAlarm
  })
}
