import { median } from '../measure/readings.js'
import { type Matching, matchPulses } from './pulse-matching.js'
import {
  alignedErrors,
  type CountedPulses,
  countedPulses,
  type RingAverage,
  ringAverage,
  turnMeanPeriods,
} from './ring-average.js'
import { judgeRing } from './ring-shape.js'

/** First and last pulse of a steady part of a log. */
export type Span = readonly [number, number]

/** A log whose ring is to be found. */
export interface RingLog {
  /** Time of each recorded pulse. [s] */
  readonly timesS: Float64Array
  readonly periodsS: Float64Array
  /** Typical period around each. [s] */
  readonly typicalS: Float64Array
  readonly spans: readonly Span[]
  /** Gaps of the ring; 1 if the log is too short to analyze the ring. */
  readonly turn: number
  /** Half-width of the window of mean periods, from `windowHalf`. */
  readonly half: number
  readonly pulsesPerTurn: number
  /** Step of the timer as a share of a period. */
  readonly step: number
}

/** A steady part of a log, with each pulse of the ring counted. */
export interface Stretch {
  readonly from: number
  readonly to: number
  readonly matching: Matching
  readonly counted: CountedPulses
  readonly meanS: Float64Array
  /** Gap of the ring that follows its first pulse. */
  readonly phase: number
}

export interface MatchedRing {
  readonly stretches: readonly Stretch[]
  /** The longest. */
  readonly main: number
  /** Whether the ring errors synchronize the count, so that the phases of the stretches are known. */
  readonly known: boolean
}

/** Maximum ring size for matching by ring errors: the work grows with the size. */
const LARGEST_TURN_MATCHED = 64
const NO_RING = new Float64Array(1)
/** Number of values that suffices for a spread. */
const ENOUGH_VALUES = 50_000
/** Ratio of standard deviation to median absolute deviation for normal values. */
const PER_MAD = 1.4826
/** Ratio of the standard uncertainty of a median to that of a mean, for many normal values. */
const MEDIAN_PER_MEAN = Math.sqrt(Math.PI / 2)

/** Spread for matching: not so small that a changing acceleration looks like a fault, not so large that nothing does. */
const withinSpread = (spread: number) => Math.min(0.25, Math.max(0.01, spread))

/** Robust spread of values: 1.4826·MAD about zero, over the periods of all spans except the last `ahead` of each. */
function robustSpread(spans: readonly Span[], ahead: number, valueAt: (period: number) => number): number {
  const deviations: number[] = []
  let total = 0
  for (const [from, to] of spans) total += Math.max(0, to - from - ahead)
  const stride = Math.max(1, Math.floor(total / ENOUGH_VALUES))
  for (const [from, to] of spans) {
    for (let i = from; i < to - ahead; i += stride) deviations.push(Math.abs(valueAt(i)))
  }
  return deviations.length === 0 ? 0 : PER_MAD * median(deviations)
}

/** Number of windows in the typical period when matching again: wide, so that a wrongly counted pulse does not confirm itself. */
const WIDER = 4

/** Sets the typical period at each recorded pulse of a stretch, from the mean over several whole turns. */
function setTypicalAtPulses(typicalS: Float64Array, stretch: Stretch, half: number): void {
  const { timesS } = stretch.counted
  const wide = Math.min(WIDER * half, half * Math.max(1, Math.floor((timesS.length - 2) / (4 * half))))
  const meanS = turnMeanPeriods(timesS, wide)
  const { pulses, counts } = stretch.matching
  let place = 0
  for (let j = stretch.from; j <= stretch.to; j++) {
    while (place < pulses.length - 1 && pulses[place + 1]! <= j) place++
    typicalS[j] = meanS[counts[place]!]!
  }
}

/**
 * Errors of the ring gaps, averaged over a stretch.
 *
 * @param stretch - Stretch with its pulses counted
 * @param log - Log that contains the stretch
 * @returns Average over its turns
 * @see `ringAverage`
 */
export const averageOf = ({ counted, meanS, phase }: Stretch, { half, turn }: RingLog): RingAverage =>
  ringAverage(counted, meanS, half, phase, turn)

/**
 * Pulses of a log counted by its ring; the ring errors are found in the process.
 *
 *     match with odd gaps allowed → errors of the ring from aligned blocks of turns → match by them with odd gaps allowed → errors → match by them
 *
 * A misplaced tooth, or the joint of a ring cut in halves, repeats every turn; a missed or an extra pulse does not. So the first
 * matching lets any gap be off by up to half a pitch, with the spread from one turn to the next, which ring errors do not affect.
 * Ring errors are used further only if they are significant; otherwise the ring is matched as even. The work is linear in the pulses.
 *
 * The longest stretch alone decides whether the errors are significant: aligning stretches by noise would make noise look like a ring.
 *
 * @param log - Log, its steady parts, and the gaps per turn
 * @returns Stretches with counted pulses; gaps numbered from the first pulse of the longest stretch
 * @see dynamic programming; synchronous averaging (derived)
 * @example matchedRing({ timesS: Float64Array.from({ length: 41 }, (_, k) => k + (k % 2) * 0.4), periodsS: Float64Array.from({ length: 40 }, (_, k) => (k % 2 === 0 ? 1.4 : 0.6)), typicalS: new Float64Array(40).fill(1), spans: [[0, 40]], turn: 2, half: 4, pulsesPerTurn: 2, step: 0 }).stretches[0].matching.pulses.length // 41 ± 0
 */
export function matchedRing(log: RingLog): MatchedRing {
  const { timesS, periodsS, typicalS, spans, turn, half, pulsesPerTurn, step } = log
  const penalty = Math.max(10, Math.log(timesS.length) + 5)
  const typicalAtPulseS = timesS.map((_, j) => typicalS[Math.min(j, periodsS.length - 1)]!)
  const match = (
    [from, to]: Span,
    periodAtPulseS: Float64Array,
    gapErrors: Float64Array,
    spread: number,
    oddGaps: boolean,
  ): Stretch => {
    const expected = { gapErrors, spread: withinSpread(spread), penalty, oddGaps }
    const matching = matchPulses(timesS, periodAtPulseS, from, to, expected)
    const counted = countedPulses(timesS, matching, gapErrors)
    const meanS = turnMeanPeriods(counted.timesS, half)
    return { from, to, matching, counted, meanS, phase: matching.phase }
  }
  const matchAgain = (
    stretches: readonly Stretch[],
    gapErrors: Float64Array,
    spread: number,
    oddGaps: boolean,
  ) => {
    // One array for all stretches: a copy for each would make the work grow with their number too.
    const periodAtPulseS = typicalAtPulseS.slice()
    for (const stretch of stretches) setTypicalAtPulses(periodAtPulseS, stretch, half)
    return spans.map((span) => match(span, periodAtPulseS, gapErrors, spread, oddGaps))
  }

  const share = (i: number) => periodsS[i]! / typicalS[i]!
  const spread = robustSpread(spans, 0, (i) => share(i) - 1)
  const turnToTurn = robustSpread(spans, turn, (i) => (share(i + turn) - share(i)) / Math.SQRT2)
  const first = spans.map((span) => match(span, typicalAtPulseS, NO_RING, Math.min(spread, turnToTurn), true))
  const main = spans.reduce((a, b, index) => (b[1] - b[0] > spans[a]![1] - spans[a]![0] ? index : a), 0)

  const errorsBy = (stretches: readonly Stretch[]) => {
    const stretch = stretches[main]!
    const average = averageOf(stretch, log)
    const gapErrors = alignedErrors(stretch.counted, stretch.meanS, half, turn, average.spread)
    return { gapErrors, passes: average.passes, spread: Math.min(spread, 1.2 * average.spread) }
  }
  const byRing = () => {
    const errors = errorsBy(first)
    // If the count has slipped, the ring errors inflate the spread around the average, but not the spread from turn to turn.
    const uncertainty = Float64Array.from(
      errors.passes,
      (passes) => (MEDIAN_PER_MEAN * turnToTurn) / Math.sqrt(Math.max(1, passes)),
    )
    if (!judgeRing({ ...errors, uncertainty }, step).significant) return undefined
    const second = matchAgain(first, errors.gapErrors, errors.spread, true)
    const again = errorsBy(second)
    return matchAgain(second, again.gapErrors, again.spread, false)
  }
  const lookedAt = turn === pulsesPerTurn && turn <= LARGEST_TURN_MATCHED
  const known = lookedAt ? byRing() : undefined
  const matched = known ?? matchAgain(first, NO_RING, spread, !lookedAt)
  const zero = matched[main]!.phase
  return {
    stretches: matched.map((stretch) => ({ ...stretch, phase: (stretch.phase - zero + turn) % turn })),
    main,
    known: known !== undefined,
  }
}
