// Writes docs/faults-reliability.md and its diagram: `npm run reliability`. Not part of `npm run generate`, since it takes half a minute.
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { type Chain, chainOf, ELECTRONIC_KINDS, type LinkGiven } from '../src/domain/faults/chain.js'
import { failGiven, testsOf } from '../src/domain/faults/fault-tests.js'
import { nextTest, type Observation } from '../src/domain/faults/next-test.js'
import { symptomGiven, symptomsOf } from '../src/domain/faults/symptoms.js'
import { randomFrom } from './random.js'

const MECHANICAL: readonly (readonly LinkGiven[])[] = [
  [{ kind: 'gearbox-drive' }, { kind: 'cable' }, { kind: 'head' }, { kind: 'interaction' }],
  [
    { kind: 'gearbox-drive', name: 'transfer case drive' },
    { kind: 'adapter' },
    { kind: 'cable' },
    { kind: 'head' },
    { kind: 'interaction' },
  ],
  [
    { kind: 'hub-drive' },
    { kind: 'cable', name: 'first cable' },
    { kind: 'in-line-unit' },
    { kind: 'cable', name: 'second cable' },
    { kind: 'head' },
    { kind: 'interaction' },
  ],
]
const ELECTRONIC: readonly LinkGiven[] = ELECTRONIC_KINDS.map((kind) => ({ kind }))

const BINS = 10
const CASES = 600

/** Predicted probabilities within one tenth, and their observed frequency. */
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

/** How much worse real tests are than stated. */
interface World {
  /** Reduction of the sensitivity of every test. */
  readonly lessSensitive: number
  /** Factor on every false-alarm rate. */
  readonly moreFalseAlarms: number
}

/**
 * Simulates searches on each layout in turn: random weights, one fault drawn from them, two symptoms, then the tests that the service asks for, with results
 * drawn from their real probabilities. Compares every stated probability with the truth.
 */
export function simulate(world: World, cases = CASES): Reliability {
  const random = randomFrom(10)
  const sums = Array.from({ length: BINS }, () => ({ predicted: 0, observed: 0, count: 0 }))
  let isolated = 0
  let right = 0
  let tests = 0
  for (let one = 0; one < cases; one++) {
    const layout = one % 2 === 0 ? ELECTRONIC : MECHANICAL[(one >> 1) % MECHANICAL.length]!
    const links = layout.map((link): LinkGiven => ({ ...link, prior: random.between(0.2, 5) }))
    const chain = chainOf(links)
    const fault = pick(
      chain.links.map(({ prior }) => prior),
      random.uniform(),
    )
    const byId = new Map(testsOf(chain, []).map((test) => [test.id, test]))
    const observations = observedSymptoms(chain, fault, random.uniform)
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

/** Two symptoms at random, present or absent with their probabilities for the fault. */
function observedSymptoms(chain: Chain, fault: number, uniform: () => number): Observation[] {
  const ids = symptomsOf(chain)
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
    '| stated | mean stated [%] | observed [%] | two standard deviations [%] | cases |',
    '|---|---|---|---|---|',
    ...bins.map(({ predicted, observed, count }, i) => {
      const chance = 2 * Math.sqrt((predicted * (1 - predicted)) / count)
      return `| ${i * 10} to ${(i + 1) * 10} % | ${percent(predicted)} | ${percent(observed)} | ${percent(chance)} | ${count} |`
    }),
  ].join('\n')

/** Maximum by which a stated probability above one half exceeds the observed frequency. */
const maxOverstated = ({ bins }: Reliability) =>
  Math.max(...bins.slice(BINS / 2).map(({ predicted, observed }) => predicted - observed))

/** Reliability diagram: observed against stated; the diagonal is perfect. */
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
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${size + 2 * edge} ${size + 2 * edge}" font-family="sans-serif" font-size="12" role="img" aria-label="Reliability diagram: observed against stated probability">
<rect width="100%" height="100%" fill="white"/>
<rect x="${edge}" y="${edge}" width="${size}" height="${size}" fill="none" stroke="#888"/>
<line x1="${x(0)}" y1="${y(0)}" x2="${x(1)}" y2="${y(1)}" stroke="#888" stroke-dasharray="4 4"/>
${line(worse, '#c60')}
${line(reliability, '#06c')}
${ticks.join('\n')}
<text x="${edge + size / 2}" y="${edge + size + 36}" text-anchor="middle">stated probability [%]</text>
<text transform="translate(12 ${edge + size / 2}) rotate(-90)" text-anchor="middle">observed [%]</text>
<text x="${edge + 10}" y="${edge + 18}" fill="#06c">tests as good as stated</text>
<text x="${edge + 10}" y="${edge + 34}" fill="#c60">tests worse than stated</text>
</svg>
`
}

/** The page on the reliability of the stated probabilities, and its diagram. */
function pages(): Record<string, string> {
  const as = simulate(TRUE_WORLD)
  const worse = simulate(WORSE_WORLD)
  const page = `# Reliability of the stated fault probabilities

${MADE}

\`POST /v1/faults/next-test\` states a probability for every link after every observation. Of all links with a stated probability of 30 %, 30 in 100
must be at fault. This page checks that by simulation: ${CASES} searches, half of them on an electronic drive of six links, half on three mechanical layouts.
Those are a gearbox drive with one cable; a transfer case with a ratio adapter; and a hub drive with two cables and an in-line unit. Each search has
random weights, one fault drawn from them, two symptoms, then the tests that the service asks for until it stops.

![Reliability diagram](faults-reliability.svg)

## Tests as good as stated

${table(as)}

A link was isolated in ${percent(as.isolated)} % of the searches, after ${as.tests.toFixed(1)} tests on average; it was the right one in ${percent(as.rightWhenIsolated)} % of them,
where stopAt is 95 %.

The standard deviations assume independent cases. The probabilities within one search are correlated, so slightly larger deviations are expected.

## Tests worse than stated

The figures of the built-in tests are common practice without a source. Here every test detects 10 in 100 fewer faults than stated and gives twice as many false
alarms, while the service still assumes the stated figures.

${table(worse)}

A link was isolated in ${percent(worse.isolated)} % of the searches; it was the right one in ${percent(worse.rightWhenIsolated)} % of them. Probabilities from 50 % up
are overstated, by up to ${percent(maxOverstated(worse))} in 100: give your own figures where you know them, and test the whole drive after every repair.
`
  return { 'docs/faults-reliability.md': page, 'docs/faults-reliability.svg': diagram(as, worse) }
}

if (import.meta.filename === process.argv[1]) {
  for (const [file, text] of Object.entries(pages())) {
    writeFileSync(join(process.cwd(), file), text)
    console.log(`wrote ${file}`)
  }
}
