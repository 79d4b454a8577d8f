import { DomainError } from '../errors.js'
import { normalCdf } from '../measure/distributions.js'
import type { Note } from '../measure/notes.js'
import { median } from '../measure/readings.js'
import { orderedSources, type SourceId } from '../measure/sources.js'
import type { Mutable } from '../mutable.js'
import type { Filter } from './filter.js'
import { type PulseLog, type ReadLog, readLog } from './pulse-log.js'
import { localPeriods, steadyStretches } from './pulse-matching.js'
import { noiseGain, rampLagSamples } from './response.js'
import { type RingAverage, windowHalf } from './ring-average.js'
import { averageOf, matchedRing, type RingLog, type Stretch } from './ring-matching.js'
import { judgeRing, type RingShape, type RingVerdict, type RingWave, ringShape } from './ring-shape.js'

export interface LogAnalysisRequest extends PulseLog {
  readonly pulsesPerTurn: number
  /** Pulses per distance; without it the series holds pulses per second. */
  readonly pulsesPerM?: number
  /** Maximum number of points of the series. */
  readonly seriesPoints: number
}

/** Consecutive missed pulses at one place. `index` is the item of the log after them. */
export interface MissedPulses {
  readonly index: number
  readonly count: number
  /** Gap of the ring in which they are missing, if the ring is known. */
  readonly gap: number
}

export interface ExtraPulse {
  readonly index: number
  readonly gap: number
}

export interface Gap {
  /** (gap − pitch)/pitch and its standard uncertainty. */
  readonly error: number
  readonly uncertainty: number
  readonly passes: number
  readonly missed: number
  readonly extra: number
}

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

/** A steady stretch of the log. */
export interface Run {
  readonly firstIndex: number
  readonly lastIndex: number
  /** Gap of the ring that follows its first pulse. */
  readonly phase: number
}

export interface LogAnalysis {
  readonly pulses: number
  readonly durationS: number
  readonly resolutionS?: number
  readonly wrapS?: number
  readonly wraps: number
  readonly runs: readonly Run[]
  /** Pulses in stretches too unsteady to count the ring: at walking pace, at a stop. */
  readonly unsteadyPulses: number
  readonly missed: readonly MissedPulses[]
  readonly extra: readonly ExtraPulse[]
  readonly missedTotal: number
  readonly ring?: {
    readonly gaps: readonly Gap[]
    readonly significant: boolean
    readonly rmsError: number
    /** Amplitude of the once-per-turn wave as an offset over the pitch radius, its widest gap, its share of the variance. */
    readonly eccentricity: number
    readonly widestGap: number
    readonly oncePerTurnShare: number
  }
  /** Residual variation without ring errors, missed and extra pulses. */
  readonly jitter: {
    readonly periodShare: number
    readonly edgeS: number
    readonly nextCorrelation: number
  }
  /** Moment and speed [m/s], or pulses per second: x, y, x, y … */
  readonly series: Float64Array
  readonly recommended?: {
    readonly filter: Filter
    readonly noiseBefore: number
    readonly noiseAfter: number
    readonly lagS: number
  }
  /** Components that the cautions among the findings point at; empty without any. */
  readonly causes: readonly Cause[]
  readonly findings: readonly Finding[]
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/**
 * Probability of a false alarm on a sound log, over all findings together: at least 99 of 100 logs without a fault give
 * no finding. Each statistical test gets a part of it.
 */
export const FALSE_ALARM = 0.01
const PART = { ring: 0.003, tooth: 0.001, bursts: 0.001, sway: 0.003, turn: 0.001 }

/** Periods on each side that the typical one is taken from: few, to follow the speed; enough to outvote a burst of faults. */
const MIN_WINDOW = 16
/** Minimum number of pulses of a log and of a steady run. */
const FEWEST_PULSES = 16
/** Minimum number of turns for an analysis of the ring. */
const FEWEST_TURNS = 5
/** Noise that the recommended filter leaves, as a share of the speed: half a unit at 100. */
const WANTED_NOISE = 0.005
/** A correlation above this many times 1/√periods is significant. */
const CORRELATION_SEEN = 2
/** Gap error that is visible on a dial without a filter; common practice, no source. */
const PLAIN_TO_SEE = 0.02

/** Minimum pattern worth reporting, as a share of a period: timer steps produce smaller ones. */
const MIN_PATTERN = 0.002

/** At most 10 000 values, evenly spaced: enough for a median. */
function sample(values: Float64Array): number[] {
  const stride = Math.ceil(values.length / 10_000)
  return Array.from(values).filter((_, index) => index % stride === 0)
}

const largestOf = (values: Float64Array) => values.reduce((most, value) => Math.max(most, value), 0)

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

interface Events {
  missed: MissedPulses[]
  extra: ExtraPulse[]
}

/** Missed and extra pulses between the first and the last pulse of each stretch; beyond them, at a stop, the log is inconclusive. */
function eventsOf(stretches: readonly Stretch[], turn: number, indexOf: (pulse: number) => number): Events {
  const events: Events = { missed: [], extra: [] }
  for (const { matching, phase } of stretches) {
    const { pulses, counts } = matching
    const gapAt = (place: number) => (counts[place]! + phase) % turn
    for (let place = 1; place < pulses.length; place++) {
      const gap = gapAt(place - 1)
      const steps = counts[place]! - counts[place - 1]!
      for (let j = pulses[place - 1]! + 1; j < pulses[place]!; j++)
        events.extra.push({ index: indexOf(j), gap })
      if (steps > 1) events.missed.push({ index: indexOf(pulses[place]!), count: steps - 1, gap })
    }
  }
  return events
}

/** Combines the averages of two stretches of the same ring. */
function merged(a: RingAverage, b: RingAverage): RingAverage {
  const passes = a.passes.map((count, gap) => count + b.passes[gap]!)
  const periods = a.periods + b.periods
  const spread = Math.sqrt((a.spread ** 2 * a.periods + b.spread ** 2 * b.periods) / periods)
  return {
    gapErrors: a.gapErrors.map((error, gap) =>
      passes[gap] === 0 ? 0 : (error * a.passes[gap]! + b.gapErrors[gap]! * b.passes[gap]!) / passes[gap]!,
    ),
    passes,
    uncertainty: Float64Array.from(passes, (count) => (count === 0 ? 0 : spread / Math.sqrt(count))),
    spread,
    nextCorrelation: (a.nextCorrelation * a.periods + b.nextCorrelation * b.periods) / periods,
    periods,
  }
}

/** Speed, or pulses per second, along a log, decimated evenly. */
function seriesOf(stretches: readonly Stretch[], pulsesPerM: number, points: number): Float64Array {
  const total = stretches.reduce((sum, { counted }) => sum + counted.timesS.length, 0)
  const stride = Math.max(1, Math.ceil(total / points))
  const flat: number[] = []
  let at = 0
  for (const { counted, meanS } of stretches) {
    for (; at < counted.timesS.length; at += stride) {
      flat.push(counted.timesS[at]!, 1 / (pulsesPerM * meanS[at]!))
    }
    at -= counted.timesS.length
  }
  return Float64Array.from(flat)
}

function recommend(
  turn: number,
  ringRms: number,
  { spread: jitter, nextCorrelation, periods }: RingAverage,
  extra: number,
  missed: number,
  periodS: number,
): LogAnalysis['recommended'] {
  const filter: Mutable<Filter> = {}
  // An extra pulse makes two adjacent bad periods, a missed one makes one.
  if (extra > 0) filter.median = 5
  else if (missed > 0) filter.median = 3
  if (turn > 1 && ringRms > WANTED_NOISE) filter.movingAverage = turn
  const stages = filter.median !== undefined || filter.movingAverage !== undefined
  // A late edge makes one period long and the next one short: filters reduce that far more than white noise.
  const correlation = Math.abs(nextCorrelation) * Math.sqrt(periods) > CORRELATION_SEEN ? nextCorrelation : 0
  const gainOf = (one: Filter) => noiseGain(one, correlation)
  const left = jitter * (stages ? gainOf(filter) : 1)
  if (left > WANTED_NOISE) {
    let bits = 1
    while (bits < 12 && jitter * gainOf({ ...filter, factor: 2 ** -bits }) > WANTED_NOISE) bits++
    filter.factor = 2 ** -bits
  } else if (!stages) return undefined
  const gain = gainOf(filter)
  const before = Math.hypot(jitter, ringRms)
  const ringLeft = filter.movingAverage === undefined ? ringRms : 0
  return {
    filter,
    noiseBefore: before,
    noiseAfter: Math.hypot(jitter * gain, ringLeft),
    lagS: rampLagSamples(filter) * periodS,
  }
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

function eventFindings(events: Events, turn: number, pulses: number): Finding[] {
  const findings: Finding[] = []
  const kinds = [
    { list: events.missed, what: 'missed pulse', tooth: 'tooth-loses-pulses', random: 'missed-at-random' },
    { list: events.extra, what: 'extra pulse', tooth: 'tooth-adds-pulses', random: 'extra-at-random' },
  ] as const
  for (const { list, what, tooth, random } of kinds) {
    if (list.length === 0) continue
    const gaps = list.map(({ gap }) => gap)
    const busiest = busiestGap(gaps, turn)
    const concentrated = concentrationChance(busiest.count, list.length, turn)
    const bursts = burstChance(
      list.map(({ index }) => index),
      pulses,
    )
    if (turn > 1 && concentrated < PART.tooth) {
      findings.push({
        code: tooth,
        level: 'caution',
        points: 'ring',
        chance: concentrated,
        text: `${busiest.count} of ${counted(list.length, what)} fall into gap ${busiest.gap} of the ring: inspect the tooth there (missing, short, bent, burred, a lost magnet).`,
      })
    } else if (bursts < PART.bursts) {
      findings.push({
        code: 'events-in-bursts',
        level: 'caution',
        points: 'bracket',
        chance: bursts,
        text: `${counted(list.length, what)} in bursts, at no particular tooth: a loose bracket, an air gap that opens over bumps, or an intermittent connection.`,
      })
    } else {
      findings.push({
        code: random,
        level: 'caution',
        points: 'electrical',
        text:
          what === 'missed pulse'
            ? `${counted(list.length, what)}, at no particular tooth or time: a signal too weak for its threshold (air gap, supply), or a program that reacts too late.`
            : `${counted(list.length, what)}, at no particular tooth or time: electrical noise (ignition, charging, ground), or a threshold without enough hysteresis.`,
      })
    }
  }
  return findings
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

/**
 * Analysis of a recorded pulse log: its ring, its signal and its timer.
 *
 *     steady runs → local typical period → match with odd gaps → errors of the ring → most likely match of pulses to the ring
 *
 * A sound log gives a false finding at most once in a hundred logs, over all findings together. A gap error is relative to the
 * mean pitch; gaps are numbered from the first pulse of the longest steady run.
 *
 * @param request - Log with at least 16 pulses, pulses per turn. [1 .. 1000]
 * @returns Missed and extra pulses, errors of the ring, residual jitter, recommended filter, and causes that the findings point at
 * @throws {DomainError} `too-few-readings`, `log-not-steady`, `times-not-increasing`
 * @see synchronous averaging; dynamic programming; JCGM 100:2008, 4.2.3
 * @example analyzeLog({ values: new Float64Array(200).fill(2500), content: 'periods', unitS: 1e-6, pulsesPerTurn: 8, seriesPoints: 10 }).findings.length // 0 ± 0
 * @example analyzeLog({ values: Float64Array.of(1, 2), content: 'periods', unitS: 1, pulsesPerTurn: 1, seriesPoints: 10 }) // throws too-few-readings
 */
export function analyzeLog(request: LogAnalysisRequest): LogAnalysis {
  const log = readLog(checkedLength(request))
  const steady = steadyLog(request, log)
  const { timesS, turn, typicalPeriodS, step } = steady
  const { stretches, main, known } = matchedRing(steady)
  const { verdict, average } = averageOverStretches(steady, stretches, main, known)
  const shape = ringShape(average.gapErrors, largestOf(average.uncertainty))
  const indexOf = (pulse: number) => (request.content === 'times' ? pulse : pulse - 1)
  const events = eventsOf(stretches, turn, indexOf)
  const missedTotal = events.missed.reduce((total, { count }) => total + count, 0)
  const findings = [
    ...ringFindings(shape, verdict, turn),
    ...eventFindings(events, turn, timesS.length),
    ...noiseFindings(average, step),
    ...turnFindings(steady, average, stretches[main]!),
    ...wrapFindings(log),
  ]
  const result: Mutable<LogAnalysis> = {
    pulses: timesS.length,
    durationS: timesS.at(-1)!,
    wraps: log.wraps,
    runs: stretches.map(({ from, to, phase }) => ({
      firstIndex: Math.max(0, indexOf(from)),
      lastIndex: indexOf(to),
      phase,
    })),
    unsteadyPulses: Math.max(
      0,
      stretches.reduce((left, { from, to }) => left - (to - from + 1), timesS.length),
    ),
    missed: events.missed,
    extra: events.extra,
    missedTotal,
    jitter: {
      periodShare: average.spread,
      // A period has two edges.
      edgeS: (average.spread * typicalPeriodS) / Math.SQRT2,
      nextCorrelation: average.nextCorrelation,
    },
    series: seriesOf(stretches, request.pulsesPerM ?? 1, request.seriesPoints),
    causes: [
      ...new Set(
        findings.flatMap(({ level, points }) =>
          level === 'caution' && points !== undefined ? [points] : [],
        ),
      ),
    ],
    findings,
    sources: orderedSources(['definitions', 'gum', 'nist-ewma', 'synchronous-average']),
    notes: notesOf(steady, log),
  }
  if (log.resolutionS !== undefined) result.resolutionS = log.resolutionS
  if (log.wrapS !== undefined) result.wrapS = log.wrapS
  if (turn > 1) result.ring = ringOf(average, verdict, shape.wave, events)
  const ringRms = verdict.significant ? verdict.rms : 0
  const recommended = recommend(turn, ringRms, average, events.extra.length, missedTotal, typicalPeriodS)
  if (recommended !== undefined) result.recommended = recommended
  return result
}

function checkedLength(request: LogAnalysisRequest): LogAnalysisRequest {
  const { content, values } = request
  const min = content === 'times' ? FEWEST_PULSES : FEWEST_PULSES - 1
  if (values.length < min) {
    throw new DomainError('too-few-readings', `${content}: expected at least ${min}, got ${values.length}`, {
      pointer: `/${content}`,
      min,
    })
  }
  return request
}

interface SteadyLog extends RingLog {
  /** Median over the log. */
  readonly typicalPeriodS: number
}

/** Periods of a log, the typical period around each, and the parts steady enough to count pulses. */
function steadyLog(
  { content, pulsesPerTurn }: LogAnalysisRequest,
  { timesS, resolutionS = 0 }: ReadLog,
): SteadyLog {
  const periodsS = Float64Array.from({ length: timesS.length - 1 }, (_, i) => timesS[i + 1]! - timesS[i]!)
  const turn = timesS.length >= FEWEST_TURNS * pulsesPerTurn ? pulsesPerTurn : 1
  const half = windowHalf(turn)
  const window = Math.max(MIN_WINDOW, turn)
  const local = localPeriods(periodsS, window)
  const spans = steadyStretches(periodsS, local, window, Math.max(FEWEST_PULSES, 4 * half + 2))
  if (spans.length === 0) {
    throw new DomainError(
      'log-not-steady',
      `${content}: no stretch of the log is steady enough to distinguish one pulse from two; record a minute at a steady speed above walking pace`,
      { pointer: `/${content}` },
    )
  }
  const { typicalS } = local
  const typicalPeriodS = median(sample(typicalS))
  const step = resolutionS / typicalPeriodS
  return { timesS, periodsS, typicalS, spans, turn, half, pulsesPerTurn, step, typicalPeriodS }
}

/** Errors of the ring over all stretches whose phase is known; the longest alone decides whether they are significant. */
function averageOverStretches(log: RingLog, stretches: readonly Stretch[], main: number, known: boolean) {
  let average = averageOf(stretches[main]!, log)
  const verdict = judgeRing(average, log.step)
  for (const [index, stretch] of stretches.entries()) {
    if (index === main || !known) continue
    const more = averageOf(stretch, log)
    if (more.periods >= FEWEST_TURNS * log.turn) average = merged(average, more)
  }
  return { verdict, average }
}

function turnFindings(
  { step, turn, half, pulsesPerTurn }: RingLog,
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

function wrapFindings({ wraps, wrapS }: ReadLog): Finding[] {
  if (wraps === 0) return []
  return [
    {
      code: 'counter-wraps',
      level: 'info',
      text: `The counter wraps ${wraps === 1 ? 'once' : `${wraps} times`}, every ${wrapS} s; the analysis corrects for that.`,
    },
  ]
}

function notesOf({ turn, pulsesPerTurn }: RingLog, { resolutionS }: ReadLog): Note[] {
  const notes: Note[] = []
  if (turn !== pulsesPerTurn) {
    notes.push({
      code: 'log-too-short-for-ring',
      level: 'info',
      text: `The log holds fewer than ${FEWEST_TURNS} turns of ${pulsesPerTurn} pulses: too few to analyze the ring.`,
    })
  }
  if (resolutionS === undefined) {
    notes.push({
      code: 'timer-step-not-seen',
      level: 'info',
      text: 'The values have so many digits that they do not show the step of the timer.',
    })
  }
  return notes
}

function ringOf(
  { gapErrors, uncertainty, passes }: RingAverage,
  verdict: RingVerdict,
  wave: RingWave,
  events: Events,
): NonNullable<LogAnalysis['ring']> {
  const turn = gapErrors.length
  const missedAt = new Int32Array(turn)
  const extraAt = new Int32Array(turn)
  for (const { gap, count } of events.missed) {
    // Consecutive missed pulses belong to consecutive teeth.
    for (let i = 0; i < count; i++) missedAt[(gap + i) % turn]!++
  }
  for (const { gap } of events.extra) extraAt[gap]!++
  return {
    gaps: Array.from(gapErrors, (error, gap) => ({
      error,
      uncertainty: uncertainty[gap]!,
      passes: passes[gap]!,
      missed: missedAt[gap]!,
      extra: extraAt[gap]!,
    })),
    significant: verdict.significant,
    rmsError: verdict.rms,
    eccentricity: wave.eccentricity,
    widestGap: wave.widestGap,
    oncePerTurnShare: wave.share,
  }
}
