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
  /** Pulses per distance; without it the series is of pulses per second. */
  readonly pulsesPerM?: number
  /** Most points of the series. */
  readonly seriesPoints: number
}

/** One place where pulses of the ring were missed, or one pulse too many. `index` is an item of the log. */
export interface MissedPulses {
  readonly index: number
  readonly count: number
  /** Gap of the ring that it fell into, where the ring is known. */
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

/** What a finding points at. */
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
  /** Probability that chance alone shows as much; absent where it is not a question of chance. */
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
  /** Pulses in stretches too unsteady to count the ring in: at walking pace, at a stop. */
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
  /** What is left when ring, missed and extra pulses are taken off. */
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
  /** What the cautions among the findings point at; empty when there is none. */
  readonly causes: readonly Cause[]
  readonly findings: readonly Finding[]
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/**
 * Chance of a false alarm on a sound log, over all findings together: a log without a fault is called so at least 99
 * times in a hundred. Each question of chance gets its part of it.
 */
export const FALSE_ALARM = 0.01
const PART = { ring: 0.003, tooth: 0.001, bursts: 0.001, sway: 0.003, turn: 0.001 }

/** Periods on each side that the usual one is the median of: few, to follow the speed; enough to outvote a burst of faults. */
const MIN_WINDOW = 16
/** Fewest pulses of a log and of a steady run. */
const FEWEST_PULSES = 16
/** Turns from which the ring is looked at. */
const FEWEST_TURNS = 5
/** Noise that the recommended filter leaves, as a share of the speed: half a unit at 100. */
const WANTED_NOISE = 0.005
/** A correlation is more than chance beyond so many times 1/√periods. */
const CORRELATION_SEEN = 2
/** A gap error that a dial shows without a filter; common practice, no source. */
const PLAIN_TO_SEE = 0.02

/** A pattern smaller than this share of a period is not worth a word: steps of a timer make such. */
const MIN_PATTERN = 0.002
/** At most 10 000 values, evenly spaced: enough for a median. */
function sample(values: Float64Array): number[] {
  const stride = Math.ceil(values.length / 10_000)
  return Array.from(values).filter((_, index) => index % stride === 0)
}

const largestOf = (values: Float64Array) => values.reduce((most, value) => Math.max(most, value), 0)

const percent = (share: number) => `${Number((100 * share).toPrecision(3))} %`

/**
 * Chance that so many of the events fall on one place when every place is as likely, at most.
 *
 *     places · exp(−n·D),  D = q·ln(q/p) + (1 − q)·ln((1 − q)/(1 − p)),  q = k/n, p = 1/places
 *
 * Chernoff's bound on the tail of the binomial distribution, added over the places: never smaller than the chance itself.
 *
 * @param k - Events on the place that has the most
 * @param n - Events in all. [>= k]
 * @param places - Places. [>= 1]
 * @returns Chance, at most; 1 where nothing is concentrated
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
 * Chance that events scattered evenly over a log bunch as much as these do.
 *
 *     D = Σ (cᵢ − c̄)²/c̄ over equal blocks is χ² with blocks − 1 degrees of freedom;  Wilson and Hilferty for its tail
 *
 * cᵢ is the number of events in block i.
 *
 * @param places - Positions of the events. [0 .. length)
 * @param length - Length of the log in the same unit
 * @returns Chance; 1 for fewer than ten events
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

/** Pulses after which a stretch repeats itself, when that is not the turn that was given. */
function otherTurn(stretch: Stretch, half: number, pulsesPerTurn: number): number | undefined {
  const { timesS } = stretch.counted
  const n = Math.min(20_000, timesS.length - 2 * half - 1)
  const most = Math.min(200, Math.floor(n / 20))
  if (n < 400) return undefined
  const residues = new Float64Array(n)
  for (let i = 0; i < n; i++) {
    const k = half + i
    const mean = (stretch.meanS[k]! + stretch.meanS[k + 1]!) / 2
    // A missed or doubled pulse that was not found must not make up the variance.
    residues[i] = Math.max(-0.5, Math.min(0.5, (timesS[k + 1]! - timesS[k]!) / mean - 1))
  }
  const squares = residues.reduce((total, x) => total + x * x, 0)
  if (squares === 0) return undefined
  const likeness = (lag: number) => {
    let total = 0
    for (let i = lag; i < n; i++) total += residues[i]! * residues[i - lag]!
    return (total / squares) * (n / (n - lag))
  }
  let best = 0
  let most1 = 0.5
  for (let lag = 2; lag <= most; lag++) {
    const value = likeness(lag)
    if (value > most1 + 0.02) {
      most1 = value
      best = lag
    }
  }
  if (best === 0 || pulsesPerTurn % best === 0) return undefined
  // A sway keeps no step with the pulses: far away the likeness is gone.
  if (best * 10 < n && likeness(best * 10) < 0.5 * most1) return undefined
  // Two joints make each half of the ring look like the other.
  if ((2 * best) % pulsesPerTurn === 0 && likeness(pulsesPerTurn) > most1 - 0.25) return undefined
  return best
}

interface Events {
  missed: MissedPulses[]
  extra: ExtraPulse[]
}

/** Missed and extra pulses between the first and the last pulse of each stretch; beyond them, at a stop, nothing can be told. */
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

/** Adds what two stretches know about the same ring. */
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

/** Speed, or pulses per second, along a log; of many pulses evenly many. */
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
  // An extra pulse makes two bad periods side by side, a missed one makes one.
  if (extra > 0) filter.median = 5
  else if (missed > 0) filter.median = 3
  if (turn > 1 && ringRms > WANTED_NOISE) filter.movingAverage = turn
  const stages = filter.median !== undefined || filter.movingAverage !== undefined
  // An edge that comes late makes one period long and the next one short: filters level that out far better than white noise.
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

/** Most frequent place, and how many events it has. */
function maxAt(gaps: readonly number[], turn: number): { gap: number; count: number } {
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
    const most = maxAt(gaps, turn)
    const here = concentrationChance(most.count, list.length, turn)
    const bursts = burstChance(
      list.map(({ index }) => index),
      pulses,
    )
    if (turn > 1 && here < PART.tooth) {
      findings.push({
        code: tooth,
        level: 'caution',
        points: 'ring',
        chance: here,
        text: `${most.count} of ${counted(list.length, what)} fall into gap ${most.gap} of the ring: look at the tooth there (missing, short, bent, burred, a magnet gone).`,
      })
    } else if (bursts < PART.bursts) {
      findings.push({
        code: 'events-in-bursts',
        level: 'caution',
        points: 'bracket',
        chance: bursts,
        text: `${counted(list.length, what)} come in bursts, at no tooth in particular: a loose bracket, an air gap that opens over bumps, or a connection that breaks now and then.`,
      })
    } else {
      findings.push({
        code: random,
        level: 'caution',
        points: 'electrical',
        text:
          what === 'missed pulse'
            ? `${counted(list.length, what)}, at no tooth and no time in particular: a signal too weak for its threshold (air gap, supply), or a program that comes too late.`
            : `${counted(list.length, what)}, at no tooth and no time in particular: electrical noise (ignition, charging, ground), or a threshold without enough hysteresis.`,
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
      gaps % 2 === 0 ? 'half a turn apart' : 'as near to half a turn apart as an odd number allows'
    const either =
      gaps === 4
        ? ' On a ring of four the two narrower gaps may be the joints as well, or its teeth are uneven without one.'
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
      text: `The gaps widen and narrow once a turn: the ring runs out of true by ${percent(wave.eccentricity)} of its pitch radius, widest at gap ${wave.widestGap}.`,
    })
  }
  if (findings.length === 0) {
    findings.push({
      ...base,
      level: levelOf(verdict.worst),
      code: 'ring-errors',
      text: `The gaps of the ring differ by up to ${percent(verdict.worst)} of the pitch (${percent(verdict.rms)} rms), the same at every turn: a mean over whole turns is free of it.`,
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
      text: `One count of the timer is ${percent(step)} of a period: the reading jumps by as much.`,
    })
  }
  // Independent edges give −0.5, a speed that is restless from pulse to pulse gives 0.
  const z = (nextCorrelation - 0.1) * Math.sqrt(periods)
  const chance = normalCdf(-Math.min(40, Math.max(-40, z)))
  if (spread > Math.max(WANTED_NOISE, step) && nextCorrelation > 0.2 && chance < PART.sway) {
    findings.push({
      code: 'speed-or-bracket-sways',
      level: 'caution',
      points: 'bracket',
      chance,
      text: `Neighboring periods are long or short together (correlation ${nextCorrelation.toFixed(2)}, spread ${percent(spread)}), out of step with the ring: the pick-up sways on its bracket, or the shaft speed itself pulsates. A log cannot tell the two apart: hold the bracket fast and record again.`,
    })
  } else if (spread > Math.max(PLAIN_TO_SEE, step) && nextCorrelation < -0.3) {
    findings.push({
      code: 'edges-jitter',
      level: 'caution',
      points: 'electrical',
      text: `Each edge comes early or late by itself (correlation ${nextCorrelation.toFixed(2)}, spread ${percent(spread)}): noise on the signal near its threshold.`,
    })
  }
  return findings
}

/**
 * What a recorded pulse log tells about its ring, its signal and its timer.
 *
 *     steady runs → local usual period → match with odd gaps → errors of the ring → most likely match of pulses to the ring
 *
 * Whatever shows on a sound log by chance does so once in a hundred logs at the most, over all findings together. A gap error is
 * relative to the mean pitch; the ring is counted from the first pulse of the longest steady run.
 *
 * @param request - Log with at least 16 pulses, pulses per turn. [1 .. 1000]
 * @returns Missed and extra pulses, errors of the ring, what is left, the filter to use, and what the findings point at
 * @throws {DomainError} `too-few-readings`, `log-not-steady`, `times-not-increasing`
 * @see synchronous averaging; dynamic programming; JCGM 100:2008, 4.2.3
 * @example analyzeLog({ values: new Float64Array(200).fill(2500), holds: 'periods', unitS: 1e-6, pulsesPerTurn: 8, seriesPoints: 10 }).findings.length // 0 ± 0
 * @example analyzeLog({ values: Float64Array.of(1, 2), holds: 'periods', unitS: 1, pulsesPerTurn: 1, seriesPoints: 10 }) // throws too-few-readings
 */
export function analyzeLog(request: LogAnalysisRequest): LogAnalysis {
  const log = readLog(checkedLength(request))
  const steady = steadyLog(request, log)
  const { timesS, turn, defaultPeriodS, step } = steady
  const { stretches, main, known } = matchedRing(steady)
  const { verdict, average } = averageOverStretches(steady, stretches, main, known)
  const shape = ringShape(average.gapErrors, largestOf(average.uncertainty))
  const indexOf = (pulse: number) => (request.holds === 'times' ? pulse : pulse - 1)
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
      edgeS: (average.spread * defaultPeriodS) / Math.SQRT2,
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
  const recommended = recommend(turn, ringRms, average, events.extra.length, missedTotal, defaultPeriodS)
  if (recommended !== undefined) result.recommended = recommended
  return result
}

function checkedLength(request: LogAnalysisRequest): LogAnalysisRequest {
  const { holds, values } = request
  const fewest = holds === 'times' ? FEWEST_PULSES : FEWEST_PULSES - 1
  if (values.length < fewest) {
    throw new DomainError('too-few-readings', `${holds}: expected at least ${fewest}, got ${values.length}`, {
      pointer: `/${holds}`,
      least: fewest,
    })
  }
  return request
}

interface SteadyLog extends RingLog {
  /** Median over the log. */
  readonly defaultPeriodS: number
}

/** Periods of a log, the usual one about each, and the parts steady enough to count in. */
function steadyLog(
  { holds, pulsesPerTurn }: LogAnalysisRequest,
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
      `${holds}: no stretch of the log is steady enough to tell one pulse from two; record a minute at a steady speed above walking pace`,
      { pointer: `/${holds}` },
    )
  }
  const { defaultS } = local
  const defaultPeriodS = median(sample(defaultS))
  const step = resolutionS / defaultPeriodS
  return { timesS, periodsS, defaultS, spans, turn, half, pulsesPerTurn, step, defaultPeriodS }
}

/** Errors of the ring over all stretches whose phase is known; the longest alone decides whether they are more than chance. */
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
      text: `The counter wraps ${wraps === 1 ? 'once' : `${wraps} times`}, every ${wrapS} s; the wraps were undone.`,
    },
  ]
}

function notesOf({ turn, pulsesPerTurn }: RingLog, { resolutionS }: ReadLog): Note[] {
  const notes: Note[] = []
  if (turn !== pulsesPerTurn) {
    notes.push({
      code: 'log-too-short-for-ring',
      level: 'info',
      text: `The log holds fewer than ${FEWEST_TURNS} turns of ${pulsesPerTurn} pulses: nothing is said about the ring.`,
    })
  }
  if (resolutionS === undefined) {
    notes.push({
      code: 'timer-step-not-seen',
      level: 'info',
      text: 'The values are written with so many digits that the step of the timer does not show.',
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
    // Missed in a row: one tooth after the other.
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
