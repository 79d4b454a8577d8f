import { normalCdf } from '../measure/distributions.js'
import type { ExtraPulse, PulseEvents } from './log-events.js'
import { WANTED_NOISE } from './log-filter.js'
import type { ReadLog } from './pulse-log.js'
import type { RingAverage } from './ring-average.js'
import type { RingLog, Stretch } from './ring-matching.js'
import type { RingShape, RingVerdict } from './ring-shape.js'

/** Component that a finding points at. */
export type Cause = 'ring' | 'electrical' | 'bracket'

export interface Finding {
  readonly code:
    | 'ring-errors'
    | 'ring-eccentric'
    | 'ring-joint'
    | 'tooth-loses-pulses'
    | 'tooth-adds-pulses'
    | 'missed-at-random'
    | 'extra-at-random'
    | 'events-in-bursts'
    | 'speed-or-bracket-sways'
    | 'edges-jitter'
    | 'timer-coarse'
    | 'counter-wraps'
    | 'pulses-per-turn-uncertain'
  readonly level: 'info' | 'caution'
  readonly points?: Cause
  readonly text: string
  /** Probability that chance alone produces this finding; absent if it is not statistical. */
  readonly chance?: number
}

/**
 * Chances of a false alarm of the tests of one log. With 0.003 for the ring (`judgeRing`) they are below 0.01 together: at least 99 of 100 logs
 * without a fault give no finding.
 */
const PART = { tooth: 0.001, bursts: 0.001, sway: 0.003 }

/** Gap error that is visible on a dial without a filter; common practice, no source. */
const PLAIN_TO_SEE = 0.02
/** Minimum pattern worth reporting, as a share of a period: timer steps produce smaller ones. */
const MIN_PATTERN = 0.002

const percent = (share: number) => `${Number((100 * share).toPrecision(3))} %`

/**
 * Upper bound of the probability that this many events fall on one place when all places are equally likely.
 *
 *     places · exp(−n·D),  D = q·ln(q/p) + (1 − q)·ln((1 − q)/(1 − p)),  q = k/n, p = 1/places
 *
 * Chernoff's bound on the tail of the binomial distribution, summed over the places: never below the exact probability.
 *
 * @param k - Events at the place with the most events
 * @param n - Events in all. [>= k]
 * @param places - Places. [>= 1]
 * @returns Upper bound of the probability; 1 without any concentration
 * @see H. Chernoff, Annals of Mathematical Statistics 23 (1952) (from memory)
 * @example concentrationChance(5, 5, 8) // 0.000244140625 ± 1e-15
 */
export function concentrationChance(k: number, n: number, places: number): number {
  const p = 1 / places
  const q = n === 0 ? 0 : k / n
  if (q <= p) return 1
  const divergence = q * Math.log(q / p) + (q === 1 ? 0 : (1 - q) * Math.log((1 - q) / (1 - p)))
  return Math.min(1, places * Math.exp(-n * divergence))
}

/**
 * Probability that events scattered uniformly over a log cluster as much as these.
 *
 *     D = Σ (cᵢ − c̄)²/c̄ over equal blocks is χ² with blocks − 1 degrees of freedom;  Wilson and Hilferty for its tail
 *
 * cᵢ is the number of events in block i.
 *
 * @param places - Positions of the events. [0 .. length)
 * @param length - Length of the log in the same unit
 * @returns Probability; 1 for fewer than ten events
 * @see index of dispersion; E. B. Wilson, M. M. Hilferty, PNAS 17 (1931) (from memory)
 * @example burstChance([0, 10, 20, 30, 40, 50, 60, 70, 80, 90], 100) > 0.5 // true
 * @example burstChance([50, 50, 51, 51, 52, 52, 53, 53, 54, 54, 54, 55], 1000) < 1e-6 // true
 */
export function burstChance(places: readonly number[], length: number): number {
  if (places.length < 10) return 1
  const blocks = Math.min(50, Math.floor(places.length / 2))
  const counts = new Float64Array(blocks)
  for (const place of places) counts[Math.min(blocks - 1, Math.floor((place / length) * blocks))]!++
  const expected = places.length / blocks
  const dispersion = counts.reduce((total, count) => total + (count - expected) ** 2 / expected, 0)
  const freedom = blocks - 1
  const spread = 2 / (9 * freedom)
  return normalCdf(-(Math.cbrt(dispersion / freedom) - (1 - spread)) / Math.sqrt(spread))
}

/** Period in pulses after which a stretch repeats, if it differs from the given pulses per turn. */
function otherTurn(stretch: Stretch, half: number, pulsesPerTurn: number): number | undefined {
  const { timesS } = stretch.counted
  const n = Math.min(20_000, timesS.length - 2 * half - 1)
  const maxLag = Math.min(200, Math.floor(n / 20))
  if (n < 400) return undefined
  const residuals = new Float64Array(n)
  for (let i = 0; i < n; i++) {
    const k = half + i
    const mean = (stretch.meanS[k]! + stretch.meanS[k + 1]!) / 2
    // Clipped, so that an undetected missed or doubled pulse does not dominate the variance.
    residuals[i] = Math.max(-0.5, Math.min(0.5, (timesS[k + 1]! - timesS[k]!) / mean - 1))
  }
  const squares = residuals.reduce((total, x) => total + x * x, 0)
  if (squares === 0) return undefined
  const autocorrelation = (lag: number) => {
    let total = 0
    for (let i = lag; i < n; i++) total += residuals[i]! * residuals[i - lag]!
    return (total / squares) * (n / (n - lag))
  }
  let best = 0
  let strongest = 0.5
  for (let lag = 2; lag <= maxLag; lag++) {
    const value = autocorrelation(lag)
    if (value > strongest + 0.02) {
      strongest = value
      best = lag
    }
  }
  if (best === 0 || pulsesPerTurn % best === 0) return undefined
  // A swaying bracket is not synchronous with the pulses: at a long lag the autocorrelation vanishes.
  if (best * 10 < n && autocorrelation(best * 10) < 0.5 * strongest) return undefined
  // With two joints, each half of the ring resembles the other.
  if ((2 * best) % pulsesPerTurn === 0 && autocorrelation(pulsesPerTurn) > strongest - 0.25) return undefined
  return best
}

const counted = (n: number, what: string) => `${n} ${what}${n === 1 ? '' : 's'}`

/** Gap with the most events, and their number. */
function busiestGap(gaps: readonly number[], turn: number): { gap: number; count: number } {
  const counts = new Int32Array(turn)
  for (const gap of gaps) counts[gap]!++
  let gap = 0
  for (let i = 1; i < turn; i++) if (counts[i]! > counts[gap]!) gap = i
  return { gap, count: counts[gap] ?? 0 }
}

interface EventKind {
  readonly what: string
  readonly tooth: 'tooth-loses-pulses' | 'tooth-adds-pulses'
  readonly random: 'missed-at-random' | 'extra-at-random'
  readonly atRandom: string
}

const MISSED: EventKind = {
  what: 'missed pulse',
  tooth: 'tooth-loses-pulses',
  random: 'missed-at-random',
  atRandom: 'a signal too weak for its threshold (air gap, supply), or a program that reacts too late',
}
const EXTRA: EventKind = {
  what: 'extra pulse',
  tooth: 'tooth-adds-pulses',
  random: 'extra-at-random',
  atRandom: 'electrical noise (ignition, charging, ground), or a threshold without enough hysteresis',
}

/** What events of one kind point at: a tooth, a bracket, or the signal. */
function eventFinding(
  list: readonly ExtraPulse[],
  { what, tooth, random, atRandom }: EventKind,
  turn: number,
  pulses: number,
): Finding {
  const busiest = busiestGap(
    list.map(({ gap }) => gap),
    turn,
  )
  const concentrated = concentrationChance(busiest.count, list.length, turn)
  if (turn > 1 && concentrated < PART.tooth) {
    return {
      code: tooth,
      level: 'caution',
      points: 'ring',
      chance: concentrated,
      text: `${busiest.count} of ${counted(list.length, what)} fall into gap ${busiest.gap} of the ring: inspect the tooth there (missing, short, bent, burred, a lost magnet).`,
    }
  }
  const bursts = burstChance(
    list.map(({ index }) => index),
    pulses,
  )
  if (bursts < PART.bursts) {
    return {
      code: 'events-in-bursts',
      level: 'caution',
      points: 'bracket',
      chance: bursts,
      text: `${counted(list.length, what)} in bursts, at no particular tooth: a loose bracket, an air gap that opens over bumps, or an intermittent connection.`,
    }
  }
  return {
    code: random,
    level: 'caution',
    points: 'electrical',
    text: `${counted(list.length, what)}, at no particular tooth or time: ${atRandom}.`,
  }
}

function eventFindings({ missed, extra }: PulseEvents, turn: number, pulses: number): Finding[] {
  return [
    ...(missed.length === 0 ? [] : [eventFinding(missed, MISSED, turn, pulses)]),
    ...(extra.length === 0 ? [] : [eventFinding(extra, EXTRA, turn, pulses)]),
  ]
}

function ringFindings({ wave, joint }: RingShape, verdict: RingVerdict, gaps: number): Finding[] {
  if (!verdict.significant) return []
  const levelOf = (error: number) => (error >= PLAIN_TO_SEE ? ('caution' as const) : ('info' as const))
  const base = { points: 'ring' as const, chance: verdict.chance }
  const findings: Finding[] = []
  if (joint !== undefined) {
    const [first, second] = joint.widths.map(percent)
    const widths = first === second ? first : `${first} and ${second}`
    const apart =
      gaps % 2 === 0 ? 'half a turn apart' : 'as close to half a turn apart as an odd number of gaps allows'
    const either =
      gaps === 4
        ? ' On a ring of four, the two narrower gaps may be the joints instead, or the ring has no joint and its teeth are uneven.'
        : ''
    findings.push({
      ...base,
      level: levelOf(verdict.worst),
      code: 'ring-joint',
      text: `Gaps ${joint.gaps[0]} and ${joint.gaps[1]}, ${apart}, differ from the rest by ${widths} of the pitch: the joints of a ring cut in halves.${either}`,
    })
  }
  if (wave.plain) {
    findings.push({
      ...base,
      level: levelOf(joint === undefined ? verdict.worst : wave.eccentricity),
      code: 'ring-eccentric',
      text: `The gaps widen and narrow once per turn: the ring runs out of true by ${percent(wave.eccentricity)} of its pitch radius, widest at gap ${wave.widestGap}.`,
    })
  }
  if (findings.length === 0) {
    findings.push({
      ...base,
      level: levelOf(verdict.worst),
      code: 'ring-errors',
      text: `The gaps of the ring differ by up to ${percent(verdict.worst)} of the pitch (${percent(verdict.rms)} rms), the same on every turn: a mean over whole turns removes this.`,
    })
  }
  return findings
}

function noiseFindings(average: RingAverage, step: number): Finding[] {
  const findings: Finding[] = []
  const { spread, nextCorrelation, periods } = average
  if (step > 0.01) {
    findings.push({
      code: 'timer-coarse',
      level: 'caution',
      text: `One count of the timer is ${percent(step)} of a period: the reading jumps by that much.`,
    })
  }
  // Independent edges give −0.5; a speed that varies from pulse to pulse gives 0.
  const z = (nextCorrelation - 0.1) * Math.sqrt(periods)
  const chance = normalCdf(-Math.min(40, Math.max(-40, z)))
  if (spread > Math.max(WANTED_NOISE, step) && nextCorrelation > 0.2 && chance < PART.sway) {
    findings.push({
      code: 'speed-or-bracket-sways',
      level: 'caution',
      points: 'bracket',
      chance,
      text: `Neighboring periods are long or short together (correlation ${nextCorrelation.toFixed(2)}, spread ${percent(spread)}), independent of the ring: the pick-up sways on its bracket, or the shaft speed itself pulsates. A log cannot distinguish the two: clamp the bracket and record again.`,
    })
  } else if (spread > Math.max(PLAIN_TO_SEE, step) && nextCorrelation < -0.3) {
    findings.push({
      code: 'edges-jitter',
      level: 'caution',
      points: 'electrical',
      text: `Each edge comes early or late independently (correlation ${nextCorrelation.toFixed(2)}, spread ${percent(spread)}): noise on the signal near its threshold.`,
    })
  }
  return findings
}

function turnFindings(
  { step, turn, half, pulsesPerTurn }: LogSettings,
  { spread }: RingAverage,
  main: Stretch,
): Finding[] {
  const repeats = spread > Math.max(step, MIN_PATTERN) ? otherTurn(main, half, turn) : undefined
  if (repeats === undefined || turn !== pulsesPerTurn) return []
  return [
    {
      code: 'pulses-per-turn-uncertain',
      level: 'caution',
      text: `The log repeats every ${repeats} pulses, not every ${pulsesPerTurn}: check the pulses per turn.`,
    },
  ]
}

function wrapFindings({ wraps, wrapS }: LogEvidence['log']): Finding[] {
  if (wraps === 0) return []
  return [
    {
      code: 'counter-wraps',
      level: 'info',
      text: `The counter wraps ${wraps === 1 ? 'once' : `${wraps} times`}, every ${wrapS} s; the analysis corrects for that.`,
    },
  ]
}

/** Gaps of the ring and steps of the timer that a log was matched by. */
type LogSettings = Pick<RingLog, 'turn' | 'half' | 'pulsesPerTurn' | 'step'>

/** What is known of a log when findings are drawn. */
export interface LogEvidence {
  readonly settings: LogSettings
  /** Pulses of the log. */
  readonly pulses: number
  readonly log: Pick<ReadLog, 'wraps' | 'wrapS'>
  readonly average: RingAverage
  readonly verdict: RingVerdict
  readonly shape: RingShape
  readonly events: PulseEvents
  /** The longest stretch. */
  readonly main: Stretch
}

/**
 * Findings of a log, with their evidence.
 *
 *     ring: `judgeRing`, `ringShape`;  places: `concentrationChance`, `burstChance`;  sway: z = (r₁ − 0.1)·√n of the standard normal distribution
 *
 * r₁ is the correlation of a period with the next, n the number of periods.
 *
 * @param evidence - Ring, events, jitter and timer of the log
 * @returns Findings of ring, events, noise, pulses per turn, and counter, in this order
 * @see Bonferroni's bound on several tests of one log (derived)
 * @example logFindings({ settings: { step: 0, turn: 1, half: 4, pulsesPerTurn: 1 }, pulses: 99, log: { wraps: 1, wrapS: 0.065536 }, average: { spread: 0, nextCorrelation: 0, periods: 98 }, verdict: { significant: false }, shape: {}, events: { missed: [], extra: [] } })[0].code // "counter-wraps"
 */
export function logFindings(evidence: LogEvidence): Finding[] {
  const { settings, pulses, log, average, verdict, shape, events, main } = evidence
  return [
    ...ringFindings(shape, verdict, settings.turn),
    ...eventFindings(events, settings.turn, pulses),
    ...noiseFindings(average, settings.step),
    ...turnFindings(settings, average, main),
    ...wrapFindings(log),
  ]
}

/**
 * Components that findings point at.
 *
 *     each cause of a caution, once
 *
 * @param findings - Findings of a log
 * @returns Causes in the order of the findings; empty without cautions
 * @see by definition
 * @example causesOf([{ code: 'timer-coarse', level: 'caution', text: '' }, { code: 'ring-errors', level: 'caution', points: 'ring', text: '' }]) // ["ring"]
 */
export function causesOf(findings: readonly Finding[]): Cause[] {
  return [
    ...new Set(
      findings.flatMap(({ level, points }) => (level === 'caution' && points !== undefined ? [points] : [])),
    ),
  ]
}
