// Writes docs/log-detection.md and its diagram: `npm run log-detection`. Apart from `npm run generate`, since it analyzes thousands of logs.
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { analyzeLog } from '../src/domain/signals/log-analysis.js'
import { plannedLog } from './pulse-log.js'

/** Time error of an edge, rms, as a share of the period. */
const JITTERS = [0.001, 0.0025, 0.005, 0.01, 0.02, 0.03, 0.04, 0.06, 0.08, 0.1]
const PULSES_PER_TURN = 8
const RATE = 0.02
/** A ring whose gaps are 1 % off, rms; scaled for the others. */
const RING = [0.9, -0.7, 1.2, -1.4, 0.7, 1.0, -0.8, -0.9].map(
  (error) => (error / 100 / Math.hypot(0.9, 0.7, 1.2, 1.4, 0.7, 1.0, 0.8, 0.9)) * Math.sqrt(8),
)
const RING_TURNS = 20

/** What was found of what was there, at one level of noise. */
export interface Detection {
  readonly jitter: number
  /** Shares of the missed and of the extra pulses that were found at their places. */
  readonly missed: number
  readonly extra: number
  /** Pulses called missed or extra that were not, a thousand pulses. */
  readonly falsePerThousand: number
  /** Shares of the rings with errors of 1, 2 and 4 % rms that were called so from 20 turns. */
  readonly rings: readonly [number, number, number]
  /** Error of the gap errors of the last, rms, as a share of them. */
  readonly ringError: number
  /** Sound logs in which a fault of the ring or of single pulses was seen. */
  readonly alarms: number
}

function analyzed(plan: Parameters<typeof plannedLog>[0]) {
  const log = plannedLog(plan)
  const values = Float64Array.from(log.timesUs)
  return {
    log,
    found: analyzeLog({
      values,
      holds: 'times',
      unitS: 1e-6,
      pulsesPerTurn: PULSES_PER_TURN,
      seriesPoints: 2,
    }),
  }
}

const share = (part: number, whole: number) => (whole === 0 ? 1 : part / whole)

/**
 * Detection at one level of noise.
 *
 * @param jitter - Time error of an edge, rms, as a share of the period
 * @param logs - Logs of each kind
 */
export function detectionAt(jitter: number, logs: number): Detection {
  const counts = { missed: 0, missedFound: 0, extra: 0, extraFound: 0, wrong: 0, pulses: 0, alarms: 0 }
  const rings = [0, 0, 0]
  let squares = 0
  for (let start = 1; start <= logs; start++) {
    const { log, found } = analyzed({ start, turns: 125, edgeJitter: jitter, missed: RATE, extra: RATE })
    const missed = new Set(found.missed.map(({ index }) => index))
    const extra = new Set(found.extra.map(({ index }) => index))
    counts.pulses += log.timesUs.length
    counts.missed += log.missed.length
    counts.extra += log.extra.length
    const missedFound = log.missed.filter((item) => missed.has(item)).length
    const extraFound = log.extra.filter((item) => extra.has(item)).length
    counts.missedFound += missedFound
    counts.extraFound += extraFound
    counts.wrong += missed.size - missedFound + extra.size - extraFound
    for (const [size, factor] of [1, 2, 4].entries()) {
      const errors = RING.map((error) => error * factor)
      const { ring } = analyzed({ start: 1000 + start, turns: RING_TURNS, edgeJitter: jitter, errors }).found
      if (ring?.significant) rings[size]!++
      if (factor === 4) {
        for (const [gap, error] of errors.entries()) squares += (ring!.gaps[gap]!.error - error) ** 2
      }
    }
    const sound = analyzed({ start: 2000 + start, turns: 40, edgeJitter: jitter }).found
    // Jitter is there and may be named; a ring fault or a missed pulse is not.
    if (sound.findings.some(({ code }) => code !== 'edges-jitter')) counts.alarms++
  }
  return {
    jitter,
    missed: share(counts.missedFound, counts.missed),
    extra: share(counts.extraFound, counts.extra),
    falsePerThousand: (1000 * counts.wrong) / counts.pulses,
    rings: [rings[0]! / logs, rings[1]! / logs, rings[2]! / logs],
    ringError: Math.sqrt(squares / (logs * PULSES_PER_TURN)) / 0.04,
    alarms: counts.alarms,
  }
}

const percent = (value: number, digits = 1) => (100 * value).toFixed(digits).replace(/\.0$/, '')

const LOGS = 200
const WIDTH = 640
const HEIGHT = 360
const LEFT = 60
const BOTTOM = 50

/** A plot of shares found against noise, on a logarithmic axis. */
function diagram(rows: readonly Detection[]): string {
  const low = Math.log(JITTERS[0]!)
  const high = Math.log(JITTERS.at(-1)!)
  const x = (jitter: number) => LEFT + ((Math.log(jitter) - low) / (high - low)) * (WIDTH - LEFT - 150)
  const y = (part: number) => 20 + (1 - part) * (HEIGHT - BOTTOM - 20)
  const lines = [
    ['missed pulses', 'black', '', (row: Detection) => row.missed],
    ['extra pulses', 'black', '6 4', (row: Detection) => row.extra],
    ['ring, 1 % rms', 'steelblue', '2 3', (row: Detection) => row.rings[0]],
    ['ring, 2 % rms', 'steelblue', '6 4', (row: Detection) => row.rings[1]],
    ['ring, 4 % rms', 'steelblue', '', (row: Detection) => row.rings[2]],
  ] as const
  const curves = lines.map(([name, color, dash, value], index) => {
    const points = rows.map((row) => `${x(row.jitter).toFixed(1)},${y(value(row)).toFixed(1)}`).join(' ')
    const legend = 40 + 22 * index
    const style = `fill="none" stroke="${color}" stroke-width="2" stroke-dasharray="${dash}"`
    return `<polyline points="${points}" ${style}/>
<polyline points="${WIDTH - 140},${legend - 4} ${WIDTH - 110},${legend - 4}" ${style}/>
<text x="${WIDTH - 104}" y="${legend}">${name}</text>`
  })
  const marks = [
    ...JITTERS.filter((_, index) => index !== 5 && index !== 7 && index !== 8).map(
      (jitter) =>
        `<text x="${x(jitter).toFixed(1)}" y="${HEIGHT - BOTTOM + 18}" text-anchor="middle">${percent(jitter, 2).replace(/0+$/, '').replace(/\.$/, '')}</text>`,
    ),
    ...[0, 0.5, 1].map(
      (part) => `<text x="${LEFT - 8}" y="${y(part) + 4}" text-anchor="end">${100 * part}</text>`,
    ),
  ]
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${WIDTH} ${HEIGHT}" font-family="sans-serif" font-size="12">
<title>Share found against the time error of an edge</title>
<rect width="${WIDTH}" height="${HEIGHT}" fill="white"/>
<polyline points="${LEFT},20 ${LEFT},${HEIGHT - BOTTOM} ${WIDTH - 150},${HEIGHT - BOTTOM}" fill="none" stroke="gray"/>
${marks.join('\n')}
<text x="${(LEFT + WIDTH - 150) / 2}" y="${HEIGHT - 12}" text-anchor="middle">time error of an edge, rms [% of the period]</text>
<text x="16" y="${HEIGHT / 2}" text-anchor="middle" transform="rotate(-90 16 ${HEIGHT / 2})">found [%]</text>
${curves.join('\n')}
</svg>
`
}

function pages(): Record<string, string> {
  const rows = JITTERS.map((jitter) => detectionAt(jitter, LOGS))
  const head = [
    'edge jitter [%]',
    'missed found [%]',
    'extra found [%]',
    'false, in 1000 pulses',
    'ring 1 % [%]',
    'ring 2 % [%]',
    'ring 4 % [%]',
    'error of the 4 % ring [%]',
    `alarms in ${LOGS} sound logs`,
  ]
  const cells = rows.map((row) => [
    percent(row.jitter, 2),
    percent(row.missed, 2),
    percent(row.extra, 2),
    row.falsePerThousand.toFixed(2),
    ...row.rings.map((part) => percent(part)),
    percent(row.ringError),
    String(row.alarms),
  ])
  const table = [head, head.map(() => '---'), ...cells].map((row) => `| ${row.join(' | ')} |`).join('\n')
  const page = `# What noise leaves of a log

<!-- Made by simulation with \`npm run log-detection\`; edit tools/log-detection.ts instead. -->

What \`POST /v1/signals/log-analysis\` finds in logs whose faults are known, against the time error of the edges. The logs come from
a generator that shares no code with the service (\`tools/pulse-log.ts\`): a ring of ${PULSES_PER_TURN} pulses a turn, ${100 * RATE} % of the pulses missed and ${100 * RATE} %
extra, 1000 pulses a log, ${LOGS} logs a row. An extra pulse stands between a tenth and nine tenths of the way to the next; one that falls where a pulse is
missed looks like a pulse, and no method finds it: the generator keeps faults three pulses apart.

![Share found against noise](log-detection.svg)

${table}

- A period has two edges, so its spread is 1.41 times the jitter of an edge.
- Rings: gap errors of 1, 2 and 4 % of the pitch, rms, from ${RING_TURNS} turns. Four times the turns halve the noise of their mean.
- Sound logs: no finding but \`edges-jitter\` counts as right; all findings together may be wrong once in 100.
- Up to an edge jitter of 1 % every missed and every extra pulse is found. Beyond, an extra pulse is the first to be taken for jitter, and
  the analysis says nothing rather than something wrong.
`
  return { 'docs/log-detection.md': page, 'docs/log-detection.svg': diagram(rows) }
}

if (import.meta.filename === process.argv[1]) {
  for (const [file, text] of Object.entries(pages())) {
    writeFileSync(join(process.cwd(), file), text)
    console.log(`wrote ${file}`)
  }
}
