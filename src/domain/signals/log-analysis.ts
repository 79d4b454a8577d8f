import { DomainError } from '../errors.js'
import { COVERAGE_FACTOR } from '../measure/figure.js'
import { infoNote, type Note } from '../measure/notes.js'
import { median } from '../measure/readings.js'
import type { Series } from '../measure/series.js'
import type { SourceId } from '../measure/sources.js'
import { fromSi } from '../measure/units.js'
import type { Mutable } from '../mutable.js'
import { type ExtraPulse, type MissedPulses, type PulseEvents, pulseEvents } from './log-events.js'
import { type RecommendedFilter, recommendedFilter } from './log-filter.js'
import { type Cause, causesOf, type Finding, logFindings } from './log-findings.js'
import { type PulseLog, type ReadLog, readLog } from './pulse-log.js'
import { localPeriods, steadyStretches } from './pulse-matching.js'
import { type RingAverage, windowHalf } from './ring-average.js'
import { averageOf, matchedRing, type RingLog, type Stretch } from './ring-matching.js'
import { judgeRing, type RingVerdict, type RingWave, ringShape } from './ring-shape.js'

export interface LogAnalysisRequest extends PulseLog {
  readonly pulsesPerTurn: number
  /** Pulses per distance; without it the series holds pulses per second. */
  readonly pulsesPerM?: number
  /** Maximum number of points of the series; left out: 500. */
  readonly seriesPoints?: number
}

export interface Gap {
  /** (gap − pitch)/pitch and its uncertainty, 95 %. */
  readonly error: number
  readonly plusMinus: number
  readonly passes: number
  readonly missed: number
  readonly extra: number
}

/** The ring, averaged over its turns; errors as shares of the pitch. */
export interface LoggedRing {
  readonly significant: boolean
  readonly rms: number
  /** Amplitude of the once-per-turn wave as an offset over the pitch radius, its widest gap, its share of the variance. */
  readonly eccentricity: number
  readonly widestGap: number
  readonly oncePerTurnShare: number
  readonly gaps: readonly Gap[]
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
  readonly missedTotal: number
  readonly missed: readonly MissedPulses[]
  readonly extraTotal: number
  readonly extra: readonly ExtraPulse[]
  readonly ring?: LoggedRing
  /** Residual variation without ring errors, missed and extra pulses. */
  readonly jitter: {
    /** Of the period, as a share of it. */
    readonly share: number
    readonly edgeS: number
    readonly nextCorrelation: number
  }
  /** Speed [km/h], or frequency [Hz] without pulses per distance, over time [s]. */
  readonly series: readonly Series[]
  readonly recommended?: RecommendedFilter
  /** Components that the cautions among the findings point at; empty without any. */
  readonly causes: readonly Cause[]
  readonly findings: readonly Finding[]
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/** Periods on each side that the typical one is taken from: few, to follow the speed; enough to outvote a burst of faults. */
const MIN_WINDOW = 16
/** Minimum number of pulses of a log and of a steady run. */
const FEWEST_PULSES = 16
/** Minimum number of turns for an analysis of the ring. */
const FEWEST_TURNS = 5
const SERIES_POINTS = 500
/** Maximum number of places of missed or of extra pulses, and of runs, that are listed. */
const MAX_PLACES = 100_000
const MAX_RUNS = 1000

/** At most 10 000 values, evenly spaced: enough for a median. */
function sample(values: Float64Array): number[] {
  const stride = Math.ceil(values.length / 10_000)
  return Array.from({ length: Math.ceil(values.length / stride) }, (_, n) => values[n * stride]!)
}

const largestOf = (values: Float64Array) => values.reduce((most, value) => Math.max(most, value), 0)

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
function seriesOf(
  stretches: readonly Stretch[],
  { pulsesPerM, seriesPoints = SERIES_POINTS }: LogAnalysisRequest,
): Series[] {
  const total = stretches.reduce((sum, { counted }) => sum + counted.timesS.length, 0)
  const stride = Math.max(1, Math.ceil(total / seriesPoints))
  const points: Array<[number, number]> = []
  let at = 0
  for (const { counted, meanS } of stretches) {
    for (; at < counted.timesS.length; at += stride) {
      const y =
        pulsesPerM === undefined ? 1 / meanS[at]! : fromSi('speed', 'kmh', 1 / (pulsesPerM * meanS[at]!))
      points.push([counted.timesS[at]!, y])
    }
    at -= counted.timesS.length
  }
  return [
    pulsesPerM === undefined
      ? { name: 'frequency', unit: 's, Hz', points }
      : { name: 'speed', unit: 's, km/h', points },
  ]
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
 * @example analyzeLog({ values: new Float64Array(200).fill(2500), content: 'periods', unitS: 1e-6, pulsesPerTurn: 8 }).findings.length // 0 ± 0
 * @example analyzeLog({ values: Float64Array.of(1, 2), content: 'periods', unitS: 1, pulsesPerTurn: 1 }) // throws too-few-readings
 */
export function analyzeLog(request: LogAnalysisRequest): LogAnalysis {
  const log = readLog(checkedLength(request))
  const steady = steadyLog(request, log)
  const { timesS, turn, typicalPeriodS } = steady
  const { stretches, main, known } = matchedRing(steady)
  const { verdict, average } = averageOverStretches(steady, stretches, main, known)
  const shape = ringShape(average.gapErrors, largestOf(average.uncertainty))
  const indexOf = (pulse: number) => (request.content === 'times' ? pulse : pulse - 1)
  const events = pulseEvents(stretches, turn, indexOf)
  const missedTotal = events.missed.reduce((total, { count }) => total + count, 0)
  const pulses = timesS.length
  const evidence = { settings: steady, pulses, log, average, verdict, shape, events, main: stretches[main]! }
  const findings = logFindings(evidence)
  const result: Mutable<LogAnalysis> = {
    pulses,
    durationS: timesS.at(-1)!,
    wraps: log.wraps,
    runs: runsOf(stretches, indexOf),
    unsteadyPulses: Math.max(
      0,
      stretches.reduce((left, { from, to }) => left - (to - from + 1), pulses),
    ),
    missedTotal,
    missed: events.missed.slice(0, MAX_PLACES),
    extraTotal: events.extra.length,
    extra: events.extra.slice(0, MAX_PLACES),
    jitter: {
      share: average.spread,
      // A period has two edges.
      edgeS: (average.spread * typicalPeriodS) / Math.SQRT2,
      nextCorrelation: average.nextCorrelation,
    },
    series: seriesOf(stretches, request),
    causes: causesOf(findings),
    findings,
    sources: ['definitions', 'gum', 'nist-ewma', 'synchronous-average'],
    notes: [...notesOf(steady, log), ...cutNotes(events, stretches)],
  }
  if (log.resolutionS !== undefined) result.resolutionS = log.resolutionS
  if (log.wrapS !== undefined) result.wrapS = log.wrapS
  if (turn > 1) result.ring = ringOf(average, verdict, shape.wave, events)
  const recommended = recommendedFilter({
    turn,
    ringRms: verdict.significant ? verdict.rms : 0,
    average,
    extra: events.extra.length,
    missed: missedTotal,
    periodS: typicalPeriodS,
  })
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
  const periodsS = timesS.subarray(1).map((timeS, i) => timeS - timesS[i]!)
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

const runsOf = (stretches: readonly Stretch[], indexOf: (pulse: number) => number): Run[] =>
  stretches.slice(0, MAX_RUNS).map(({ from, to, phase }) => ({
    firstIndex: Math.max(0, indexOf(from)),
    lastIndex: indexOf(to),
    phase,
  }))

function notesOf({ turn, pulsesPerTurn }: RingLog, { resolutionS }: ReadLog): Note[] {
  const notes: Note[] = []
  if (turn !== pulsesPerTurn) {
    notes.push(
      infoNote(
        'log-too-short-for-ring',
        `The log holds fewer than ${FEWEST_TURNS} turns of ${pulsesPerTurn} pulses: too few to analyze the ring.`,
      ),
    )
  }
  if (resolutionS === undefined) {
    notes.push(
      infoNote(
        'timer-step-not-seen',
        'The values have so many digits that they do not show the step of the timer.',
      ),
    )
  }
  return notes
}

function cutNotes({ missed, extra }: PulseEvents, stretches: readonly Stretch[]): Note[] {
  if (missed.length <= MAX_PLACES && extra.length <= MAX_PLACES && stretches.length <= MAX_RUNS) return []
  return [
    infoNote(
      'lists-cut',
      `At most ${MAX_PLACES} places of each kind and ${MAX_RUNS} runs are listed; the totals count all.`,
    ),
  ]
}

function ringOf(
  { gapErrors, uncertainty, passes }: RingAverage,
  verdict: RingVerdict,
  wave: RingWave,
  events: PulseEvents,
): LoggedRing {
  const turn = gapErrors.length
  const missedAt = new Int32Array(turn)
  const extraAt = new Int32Array(turn)
  for (const { gap, count } of events.missed) {
    // Consecutive missed pulses belong to consecutive teeth.
    for (let i = 0; i < count; i++) missedAt[(gap + i) % turn]!++
  }
  for (const { gap } of events.extra) extraAt[gap]!++
  return {
    significant: verdict.significant,
    rms: verdict.rms,
    eccentricity: wave.eccentricity,
    widestGap: wave.widestGap,
    oncePerTurnShare: wave.share,
    gaps: Array.from(gapErrors, (error, gap) => ({
      error,
      plusMinus: COVERAGE_FACTOR * uncertainty[gap]!,
      passes: passes[gap]!,
      missed: missedAt[gap]!,
      extra: extraAt[gap]!,
    })),
  }
}
