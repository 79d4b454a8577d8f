// Writes docs/faults-reliability.md and its diagram: `npm run reliability`. Apart from `npm run generate`, since it searches for half a minute.
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { chainOf, type LinkGiven } from '../src/domain/faults/chain.js'
import { failGiven, testsOf } from '../src/domain/faults/fault-tests.js'
import { nextTest, type Observation } from '../src/domain/faults/next-test.js'
import { SYMPTOMS, type SymptomId, symptomGiven } from '../src/domain/faults/symptoms.js'
import { randomFrom } from './random.js'

const MECHANICAL = [
  'wheel-drive-cap',
  'angle-drive',
  'lower-cable',
  'service-counter',
  'upper-cable',
  'head',
  'interaction',
] as const
const ELECTRONIC = ['pulse-ring', 'sensor', 'wiring', 'supply', 'controller', 'display'] as const

const BINS = 10
const CASES = 600

/** How far a prediction was borne out: cases with a probability in this tenth. */
export interface Bin {
  readonly predicted: number
  readonly observed: number
  readonly count: number
}

export interface Reliability {
  readonly bins: readonly Bin[]
  readonly isolated: number
  readonly rightWhenIsolated: number
  readonly tests: number
}

/** What the world does differently from what the service is told. */
interface World {
  /** Takes this off the sensitivity of every test. */
  readonly lessSensitive: number
  /** Multiplies every false-alarm rate. */
  readonly moreFalseAlarms: number
}

/**
 * Simulated searches: a chain and weights at random, one fault drawn from them, two symptoms and then tests as the service asks for them, results drawn from
 * their probabilities in that world. Every probability that was stated on the way is held against what was true.
 */
export function simulate(world: World, cases = CASES): Reliability {
  const random = randomFrom(10)
  const sums = Array.from({ length: BINS }, () => ({ predicted: 0, observed: 0, count: 0 }))
  let isolated = 0
  let right = 0
  let tests = 0
  for (let one = 0; one < cases; one++) {
    const kinds = random.uniform() < 0.5 ? MECHANICAL : ELECTRONIC
    const links = kinds.map((kind): LinkGiven => ({ kind, prior: random.between(0.2, 5) }))
    const chain = chainOf(links)
    const fault = pick(
      chain.links.map(({ prior }) => prior),
      random.uniform(),
    )
    const byId = new Map(testsOf(chain, []).map((test) => [test.id, test]))
    const observations = symptomsOf(chain, fault, random.uniform)
    for (;;) {
      const state = nextTest(links, observations)
      for (const [i, probability] of state.probabilities.entries()) {
        const bin = sums[Math.min(BINS - 1, Math.floor(probability * BINS))]!
        bin.predicted += probability
        bin.observed += i === fault ? 1 : 0
        bin.count++
      }
      if (state.status === 'isolated') {
        isolated++
        if (state.suspect.name === chain.links[fault]!.name) right++
      }
      if (state.next === undefined) break
      const test = byId.get(state.next.test.id)!
      const real = {
        ...test,
        sensitivity: test.sensitivity - world.lessSensitive,
        falseAlarm: test.falseAlarm * world.moreFalseAlarms,
      }
      const fails = random.uniform() < failGiven(real, chain.links.length)[fault]!
      observations.push({ test: test.id, result: fails ? 'fail' : 'pass' })
      tests++
    }
  }
  return {
    bins: sums.map(({ predicted, observed, count }) => ({
      predicted: predicted / count,
      observed: observed / count,
      count,
    })),
    isolated: isolated / cases,
    rightWhenIsolated: right / isolated,
    tests: tests / cases,
  }
}

function pick(probabilities: readonly number[], uniform: number): number {
  let left = uniform
  for (const [i, p] of probabilities.entries()) {
    left -= p
    if (left < 0) return i
  }
  return probabilities.length - 1
}

/** Two symptoms that were asked for, present or absent as the fault has it. */
function symptomsOf(chain: ReturnType<typeof chainOf>, fault: number, uniform: () => number): Observation[] {
  const ids = Object.keys(SYMPTOMS) as SymptomId[]
  const first = Math.floor(uniform() * ids.length)
  const second = (first + 1 + Math.floor(uniform() * (ids.length - 1))) % ids.length
  return [first, second].map((i) => {
    const id = ids[i]!
    return { test: id, result: uniform() < symptomGiven(id, chain)[fault]! ? 'present' : 'absent' }
  })
}

const MADE =
  '<!-- Made by simulation with `npm run reliability`; edit tools/faults-reliability.ts instead. -->'

export const TRUE_WORLD: World = { lessSensitive: 0, moreFalseAlarms: 1 }
export const WORSE_WORLD: World = { lessSensitive: 0.1, moreFalseAlarms: 2 }

const percent = (share: number) => (100 * share).toFixed(1)

const table = ({ bins }: Reliability) =>
  [
    '| stated | mean stated [%] | came true [%] | two standard deviations of chance [%] | cases |',
    '|---|---|---|---|---|',
    ...bins.map(({ predicted, observed, count }, i) => {
      const chance = 2 * Math.sqrt((predicted * (1 - predicted)) / count)
      return `| ${i * 10} to ${(i + 1) * 10} % | ${percent(predicted)} | ${percent(observed)} | ${percent(chance)} | ${count} |`
    }),
  ].join('\n')

/** By how much the upper half of the stated probabilities is too sure, at its worst. */
const maxOverstated = ({ bins }: Reliability) =>
  Math.max(...bins.slice(BINS / 2).map(({ predicted, observed }) => predicted - observed))

/** Reliability diagram: came true against stated, the diagonal being perfect. */
function diagram(reliability: Reliability, worse: Reliability): string {
  const size = 320
  const edge = 44
  const x = (share: number) => (edge + share * size).toFixed(1)
  const y = (share: number) => (edge + (1 - share) * size).toFixed(1)
  const line = ({ bins }: Reliability, color: string) => {
    const points = bins.map(({ predicted, observed }) => `${x(predicted)},${y(observed)}`)
    const dots = bins.map(
      ({ predicted, observed }) =>
        `<circle cx="${x(predicted)}" cy="${y(observed)}" r="3.5" fill="${color}"/>`,
    )
    return `<polyline points="${points.join(' ')}" fill="none" stroke="${color}" stroke-width="1.5"/>\n${dots.join('\n')}`
  }
  const ticks = [0, 0.25, 0.5, 0.75, 1].flatMap((share) => [
    `<text x="${x(share)}" y="${edge + size + 18}" text-anchor="middle">${share * 100}</text>`,
    `<text x="${edge - 8}" y="${Number(y(share)) + 4}" text-anchor="end">${share * 100}</text>`,
  ])
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${size + 2 * edge} ${size + 2 * edge}" font-family="sans-serif" font-size="12" role="img" aria-label="Reliability diagram: share that came true against stated probability">
<rect width="100%" height="100%" fill="white"/>
<rect x="${edge}" y="${edge}" width="${size}" height="${size}" fill="none" stroke="#888"/>
<line x1="${x(0)}" y1="${y(0)}" x2="${x(1)}" y2="${y(1)}" stroke="#888" stroke-dasharray="4 4"/>
${line(worse, '#c60')}
${line(reliability, '#06c')}
${ticks.join('\n')}
<text x="${edge + size / 2}" y="${edge + size + 36}" text-anchor="middle">stated probability [%]</text>
<text transform="translate(12 ${edge + size / 2}) rotate(-90)" text-anchor="middle">came true [%]</text>
<text x="${edge + 10}" y="${edge + 18}" fill="#06c">tests as good as stated</text>
<text x="${edge + 10}" y="${edge + 34}" fill="#c60">tests worse than stated</text>
</svg>
`
}

/** The page on how far stated probabilities of faults come true, and its diagram. */
function pages(): Record<string, string> {
  const as = simulate(TRUE_WORLD)
  const worse = simulate(WORSE_WORLD)
  const page = `# Do the stated probabilities of faults come true?

${MADE}

\`POST /v1/faults/next-test\` states a probability for every link after every observation. Of all links of which it says 30 %, 30 in 100 must be
at fault. This page holds it to that, by simulation: ${CASES} searches on mechanical chains of seven links and electronic chains of six, weights at random, one fault
drawn from them, two symptoms, then the tests that the service asks for until it stops.

![Reliability diagram](faults-reliability.svg)

## Tests as good as stated

${table(as)}

A link was found in ${percent(as.isolated)} % of the searches, after ${as.tests.toFixed(1)} tests on the average; it was the right one in ${percent(as.rightWhenIsolated)} % of them,
where the stop rule asks for 95 %.

The chance given is that of independent cases; the probabilities of one search hang together, so a little more is no surprise.

## Tests worse than stated

The figures of the built-in tests are common practice without a source. Here every test finds 10 in 100 fewer faults than stated and gives twice as many false
alarms, and the service does not know.

${table(worse)}

A link was found in ${percent(worse.isolated)} % of the searches; it was the right one in ${percent(worse.rightWhenIsolated)} % of them. What is stated from 50 % up
comes true less often, by up to ${percent(maxOverstated(worse))} in 100: give your own figures where you know them, and test the whole after every repair.
`
  return { 'docs/faults-reliability.md': page, 'docs/faults-reliability.svg': diagram(as, worse) }
}

if (import.meta.filename === process.argv[1]) {
  for (const [file, text] of Object.entries(pages())) {
    writeFileSync(join(process.cwd(), file), text)
    console.log(`wrote ${file}`)
  }
}
