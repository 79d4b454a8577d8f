// Writes docs/log-detection.md and its diagrams: `npm run log-detection`. Separate from `npm run generate`, since it analyzes thousands of logs.
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { analyzeLog } from '../src/domain/signals/log-analysis.js'
import { plannedLog } from './pulse-log.js'

/** Time error of an edge, rms, as a share of the period. */
const JITTERS = [0.001, 0.0025, 0.005, 0.01, 0.02, 0.03, 0.04, 0.06, 0.08, 0.1]
const PULSES_PER_TURN = 8
const RATE = 0.02
/** Gap errors of a ring, 1 % rms; scaled for the others. */
const RING = [0.9, -0.7, 1.2, -1.4, 0.7, 1.0, -0.8, -0.9].map(
  (error) => (error / 100 / Math.hypot(0.9, 0.7, 1.2, 1.4, 0.7, 1.0, 0.8, 0.9)) * Math.sqrt(8),
)
const RING_TURNS = 20
/** Extra width of the two gaps at the joints of a ring cut in halves, as a share of the pitch. */
const JOINTS = [0.02, 0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.45]
const JOINT_TEETH = [4, 5, 6, 8, 12, 16, 24, 40, 60]
const JOINT_TURNS = 120
const JOINT_JITTER = 0.005
/** Offset of the center over the pitch radius, for every second ring. */
const JOINT_ECCENTRICITY = 0.01

/** Detection rates at one level of noise. */
export interface Detection {
  readonly jitter: number
  /** Shares of the missed and of the extra pulses found at their places. */
  readonly missed: number
  readonly extra: number
  /** False missed and extra pulses per thousand pulses. */
  readonly falsePerThousand: number
  /** Shares of the rings with errors of 1, 2 and 4 % rms that were detected from 20 turns. */
  readonly rings: readonly [number, number, number]
  /** Relative rms error of the gap errors of the last of these. */
  readonly ringError: number
  /** Sound logs with a finding of a ring fault or of missed or extra pulses. */
  readonly alarms: number
}

/** Detection rates for rings cut in halves, at one width of the joint. */
export interface JointDetection {
  readonly joint: number
  /** Share of the sound logs in which the joint was detected. */
  readonly named: number
  /** Sound logs with a false missed or extra pulse, a finding other than of the ring, or a recommended median. */
  readonly wrong: number
  /** As in `Detection`, with faults. */
  readonly missed: number
  readonly extra: number
  readonly falsePerThousand: number
}

function analyzed(plan: Parameters<typeof plannedLog>[0]) {
  const log = plannedLog(plan)
  const { pulsesPerTurn = PULSES_PER_TURN } = plan
  const values = Float64Array.from(log.timesUs)
  return {
    log,
    found: analyzeLog({ values, content: 'times', unitS: 1e-6, pulsesPerTurn, seriesPoints: 2 }),
  }
}

/** Counts of missed and extra pulses of several logs, and of those found at their places. */
class PulseCount {
  #missed = 0
  #missedFound = 0
  #extra = 0
  #extraFound = 0
  #wrong = 0
  #pulses = 0

  add({ log, found }: ReturnType<typeof analyzed>): void {
    const missed = new Set(found.missed.map(({ index }) => index))
    const extra = new Set(found.extra.map(({ index }) => index))
    const missedFound = log.missed.filter((item) => missed.has(item)).length
    const extraFound = log.extra.filter((item) => extra.has(item)).length
    this.#pulses += log.timesUs.length
    this.#missed += log.missed.length
    this.#extra += log.extra.length
    this.#missedFound += missedFound
    this.#extraFound += extraFound
    this.#wrong += missed.size - missedFound + extra.size - extraFound
  }

  shares(): Pick<Detection, 'missed' | 'extra' | 'falsePerThousand'> {
    return {
      missed: share(this.#missedFound, this.#missed),
      extra: share(this.#extraFound, this.#extra),
      falsePerThousand: (1000 * this.#wrong) / this.#pulses,
    }
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
  const count = new PulseCount()
  let alarms = 0
  const rings = [0, 0, 0]
  let squares = 0
  for (let start = 1; start <= logs; start++) {
    count.add(analyzed({ start, turns: 125, edgeJitter: jitter, missed: RATE, extra: RATE }))
    for (const [size, factor] of [1, 2, 4].entries()) {
      const errors = RING.map((error) => error * factor)
      const { ring } = analyzed({ start: 1000 + start, turns: RING_TURNS, edgeJitter: jitter, errors }).found
      if (ring?.significant) rings[size]!++
      if (factor === 4) {
        for (const [gap, error] of errors.entries()) squares += (ring!.gaps[gap]!.error - error) ** 2
      }
    }
    const sound = analyzed({ start: 2000 + start, turns: 40, edgeJitter: jitter }).found
    // The log has jitter, so that finding is right; a ring fault or a missed pulse is a false alarm.
    if (sound.findings.some(({ code }) => code !== 'edges-jitter')) alarms++
  }
  return {
    jitter,
    ...count.shares(),
    rings: [rings[0]! / logs, rings[1]! / logs, rings[2]! / logs],
    ringError: Math.sqrt(squares / (logs * PULSES_PER_TURN)) / 0.04,
    alarms,
  }
}

/** Gap errors of an eccentric ring cut in halves. */
function errorsOfHalves(teeth: number, joint: number, eccentricity: number): number[] {
  const edge = (gap: number) =>
    ((eccentricity * teeth) / (2 * Math.PI)) * Math.sin((2 * Math.PI * gap) / teeth)
  return Array.from({ length: teeth }, (_, gap) => {
    const odd = gap === 0 || gap === teeth >> 1 ? joint : 0
    return odd - (2 * joint) / teeth + edge(gap + 1) - edge(gap)
  })
}

/**
 * Detection on rings cut in halves, of 4 to 60 teeth, concentric and eccentric.
 *
 * @param joint - Extra width of the two gaps at the joints, as a share of the pitch
 * @param logs - Logs of each kind, number of teeth and eccentricity
 */
export function jointDetectionAt(joint: number, logs: number): JointDetection {
  const count = new PulseCount()
  let named = 0
  let wrong = 0
  let sound = 0
  for (const pulsesPerTurn of JOINT_TEETH) {
    for (const eccentricity of [0, JOINT_ECCENTRICITY]) {
      const errors = errorsOfHalves(pulsesPerTurn, joint, eccentricity)
      const plan = { pulsesPerTurn, errors, turns: JOINT_TURNS, edgeJitter: JOINT_JITTER }
      for (let start = 1; start <= logs; start++) {
        count.add(analyzed({ ...plan, start, missed: RATE, extra: RATE }))
        const { findings, missed, extra, recommended } = analyzed({ ...plan, start: 1000 + start }).found
        sound++
        if (findings.some(({ code }) => code === 'ring-joint')) named++
        const ofPulses = findings.some(({ code }) => !code.startsWith('ring-'))
        if (missed.length + extra.length > 0 || ofPulses || recommended?.filter.median !== undefined) wrong++
      }
    }
  }
  return { joint, named: share(named, sound), wrong, ...count.shares() }
}

const percent = (value: number, digits = 1) => (100 * value).toFixed(digits).replace(/\.0$/, '')

const LOGS = 200
const JOINT_LOGS = 20
const WIDTH = 640
const HEIGHT = 360
const LEFT = 60
const RIGHT = WIDTH - 150
const BOTTOM = 50

interface Curve {
  readonly name: string
  readonly color: string
  readonly dash: string
  readonly shares: readonly number[]
}

interface Diagram {
  readonly title: string
  readonly axis: string
  /** Values of the axis, and their positions from 0 to 1. */
  readonly values: readonly number[]
  readonly placeOf: (value: number) => number
  readonly marks: readonly number[]
  readonly curves: readonly Curve[]
}

/** A plot of shares found. */
function diagram({ title, axis, values, placeOf, marks, curves }: Diagram): string {
  const x = (value: number) => (LEFT + placeOf(value) * (RIGHT - LEFT)).toFixed(1)
  const y = (part: number) => 20 + (1 - part) * (HEIGHT - BOTTOM - 20)
  const lines = curves.map(({ name, color, dash, shares }, index) => {
    const points = shares.map((part, at) => `${x(values[at]!)},${y(part).toFixed(1)}`).join(' ')
    const legend = 40 + 22 * index
    const style = `fill="none" stroke="${color}" stroke-width="2" stroke-dasharray="${dash}"`
    return `<polyline points="${points}" ${style}/>
<polyline points="${WIDTH - 140},${legend - 4} ${WIDTH - 110},${legend - 4}" ${style}/>
<text x="${WIDTH - 104}" y="${legend}">${name}</text>`
  })
  const ticks = [
    ...marks.map(
      (value) =>
        `<text x="${x(value)}" y="${HEIGHT - BOTTOM + 18}" text-anchor="middle">${percent(value, 2).replace(/0+$/, '').replace(/\.$/, '')}</text>`,
    ),
    ...[0, 0.5, 1].map(
      (part) => `<text x="${LEFT - 8}" y="${y(part) + 4}" text-anchor="end">${100 * part}</text>`,
    ),
  ]
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${WIDTH} ${HEIGHT}" font-family="sans-serif" font-size="12">
<title>${title}</title>
<rect width="${WIDTH}" height="${HEIGHT}" fill="white"/>
<polyline points="${LEFT},20 ${LEFT},${HEIGHT - BOTTOM} ${RIGHT},${HEIGHT - BOTTOM}" fill="none" stroke="gray"/>
${ticks.join('\n')}
<text x="${(LEFT + RIGHT) / 2}" y="${HEIGHT - 12}" text-anchor="middle">${axis}</text>
<text x="16" y="${HEIGHT / 2}" text-anchor="middle" transform="rotate(-90 16 ${HEIGHT / 2})">found [%]</text>
${lines.join('\n')}
</svg>
`
}

function noiseDiagram(rows: readonly Detection[]): string {
  const low = Math.log(JITTERS[0]!)
  const high = Math.log(JITTERS.at(-1)!)
  const curve = (name: string, color: string, dash: string, shareOf: (row: Detection) => number) => ({
    name,
    color,
    dash,
    shares: rows.map(shareOf),
  })
  return diagram({
    title: 'Share found against the time error of an edge',
    axis: 'time error of an edge, rms [% of the period]',
    values: JITTERS,
    placeOf: (jitter) => (Math.log(jitter) - low) / (high - low),
    marks: JITTERS.filter((_, index) => index !== 5 && index !== 7 && index !== 8),
    curves: [
      curve('missed pulses', 'black', '', (row) => row.missed),
      curve('extra pulses', 'black', '6 4', (row) => row.extra),
      curve('ring, 1 % rms', 'steelblue', '2 3', (row) => row.rings[0]),
      curve('ring, 2 % rms', 'steelblue', '6 4', (row) => row.rings[1]),
      curve('ring, 4 % rms', 'steelblue', '', (row) => row.rings[2]),
    ],
  })
}

function jointDiagram(rows: readonly JointDetection[], sound: number): string {
  return diagram({
    title: 'Share found against the width of the joint of a ring cut in halves',
    axis: 'extra width of the two gaps at the joints [% of the pitch]',
    values: JOINTS,
    placeOf: (joint) => joint / 0.5,
    marks: [0, 0.1, 0.2, 0.3, 0.4, 0.5],
    curves: [
      { name: 'joint detected', color: 'steelblue', dash: '', shares: rows.map(({ named }) => named) },
      { name: 'missed pulses', color: 'black', dash: '', shares: rows.map(({ missed }) => missed) },
      { name: 'extra pulses', color: 'black', dash: '6 4', shares: rows.map(({ extra }) => extra) },
      {
        name: 'false, in sound logs',
        color: 'firebrick',
        dash: '',
        shares: rows.map(({ wrong }) => wrong / sound),
      },
    ],
  })
}

const tableOf = (head: readonly string[], rows: readonly (readonly string[])[]) =>
  [head, head.map(() => '---'), ...rows].map((row) => `| ${row.join(' | ')} |`).join('\n')

function pages(): Record<string, string> {
  const rows = JITTERS.map((jitter) => detectionAt(jitter, LOGS))
  const head = [
    'edge jitter [%]',
    'missed found [%]',
    'extra found [%]',
    'false, per 1000 pulses',
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
  const joints = JOINTS.map((joint) => jointDetectionAt(joint, JOINT_LOGS))
  const sound = JOINT_LOGS * JOINT_TEETH.length * 2
  const jointCells = joints.map((row) => [
    percent(row.joint),
    percent(row.named),
    String(row.wrong),
    percent(row.missed, 2),
    percent(row.extra, 2),
    row.falsePerThousand.toFixed(2),
  ])
  const jointHead = [
    'joint [% of the pitch]',
    'joint detected [%]',
    `false in ${sound} sound logs`,
    'missed found [%]',
    'extra found [%]',
    'false, per 1000 pulses',
  ]
  const page = `# Detection of faults in noisy logs

<!-- Made by simulation with \`npm run log-detection\`; edit tools/log-detection.ts instead. -->

Faults that \`POST /v1/signals/log-analysis\` detects in logs with known faults, by edge jitter. The logs come from a
generator that shares no code with the service (\`tools/pulse-log.ts\`): a ring of ${PULSES_PER_TURN} pulses per turn, ${100 * RATE} % of the pulses missed and ${100 * RATE} %
extra, 1000 pulses per log, ${LOGS} logs per row. An extra pulse comes between a tenth and nine tenths of a period. In the place of
a missed pulse it cannot be distinguished from that pulse by any method, so the generator keeps faults three pulses apart.

![Share found against edge jitter](log-detection.svg)

${tableOf(head, cells)}

- A period has two edges, so its spread is 1.41 times the jitter of an edge.
- Rings: gap errors of 1, 2 and 4 % of the pitch, rms, from ${RING_TURNS} turns. Four times as many turns halve the noise of their mean.
- Sound logs: any finding except \`edges-jitter\` is a false alarm; the limit is one in 100 logs over all findings together.
- Up to an edge jitter of 1 %, every missed and every extra pulse is found. At higher jitter, extra pulses are the first to be taken for
  jitter: the analysis prefers a missed fault to a false alarm.

## A ring cut in halves

A ring cut in halves, for mounting with the shaft in place, has two gaps of another width, half a turn apart. They repeat every turn; missed and extra
pulses do not. Logs of ${JOINT_TURNS} turns at an edge jitter of ${percent(JOINT_JITTER)} %, rings of ${JOINT_TEETH.slice(0, -1).join(', ')} and ${JOINT_TEETH.at(-1)} teeth, half of them
eccentric by ${percent(JOINT_ECCENTRICITY)} %: ${sound} sound logs per row, and as many with ${percent(RATE)} % of the pulses missed and ${percent(RATE)} % extra.

![Share found against the width of the joint](log-detection-joint.svg)

${tableOf(jointHead, jointCells)}

- False: a sound log for which the analysis reports a missed or extra pulse, a finding other than on the ring, or a median filter.
`
  return {
    'docs/log-detection.md': page,
    'docs/log-detection.svg': noiseDiagram(rows),
    'docs/log-detection-joint.svg': jointDiagram(joints, sound),
  }
}

if (import.meta.filename === process.argv[1]) {
  for (const [file, text] of Object.entries(pages())) {
    writeFileSync(join(process.cwd(), file), text)
    console.log(`wrote ${file}`)
  }
}
