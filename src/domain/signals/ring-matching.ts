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

/** A log of which the ring is to be found. */
export interface RingLog {
  /** Moment of each recorded pulse. [s] */
  readonly timesS: Float64Array
  readonly periodsS: Float64Array
  /** Usual period about each. [s] */
  readonly defaultS: Float64Array
  readonly spans: readonly Span[]
  /** Gaps of the ring; 1 where the log is too short to look at it. */
  readonly turn: number
  /** Half of the window of mean periods, from `windowHalf`. */
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
  /** Whether the errors of the ring kept the count in step, so that the phases of the stretches are known. */
  readonly known: boolean
}

/** Rings up to this size are kept in step by their errors while pulses are matched: the work grows with the size. */
const LARGEST_TURN_MATCHED = 64
const NO_RING = new Float64Array(1)
/** Values that are enough for a spread. */
const ENOUGH_VALUES = 50_000
/** Standard deviation of normal values over their median absolute deviation. */
const PER_MAD = 1.4826
/** Standard uncertainty of a median over that of a mean, of many normal values. */
const MEDIAN_PER_MEAN = Math.sqrt(Math.PI / 2)

/** Spread that pulses are matched with: never so small that a curve of the speed looks like a fault, never so large that nothing does. */
const withinSpread = (spread: number) => Math.min(0.25, Math.max(0.01, spread))

/** Spread of values that outliers do not move: 1.4826·MAD about zero, over the periods of all spans but the last `ahead` of each. */
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

/** Windows that the usual period is taken over when pulses are matched again: a pulse wrongly counted must not vouch for itself. */
const WIDER = 4

/** Sets the usual period at each recorded pulse of a stretch, from the mean over some whole turns. */
function setUsualAtPulses(defaultS: Float64Array, stretch: Stretch, half: number): void {
  const { timesS } = stretch.counted
  const wide = Math.min(WIDER * half, half * Math.max(1, Math.floor((timesS.length - 2) / (4 * half))))
  const meanS = turnMeanPeriods(timesS, wide)
  const { pulses, counts } = stretch.matching
  let place = 0
  for (let j = stretch.from; j <= stretch.to; j++) {
    while (place < pulses.length - 1 && pulses[place + 1]! <= j) place++
    defaultS[j] = meanS[counts[place]!]!
  }
}

/**
 * Errors of the gaps of a stretch as the ring has them.
 *
 * @param stretch - Stretch with its pulses counted
 * @param log - Log that it is of
 * @returns Average over its turns
 * @see `ringAverage`
 */
export const averageOf = ({ counted, meanS, phase }: Stretch, { half, turn }: RingLog): RingAverage =>
  ringAverage(counted, meanS, half, phase, turn)

/**
 * Pulses of a log counted by its ring, whose errors are found on the way.
 *
 *     odd gaps allowed → errors of the ring, blocks of turns lined up → odd gaps allowed about them → errors → match by them
 *
 * A tooth off its place, or the joint of a ring cut in halves, repeats with every turn; a missed or an extra pulse does not. So the
 * first matching lets any gap be off by up to half a pitch, with the spread from one turn to the next, which the ring does not move.
 * Only a ring that shows beyond chance takes part in what follows; another is matched as even. The work is linear in the pulses.
 *
 * The longest stretch alone decides whether the ring shows: lining stretches up on chance would make chance look like a ring.
 *
 * @param log - Log, its steady parts, and the turn
 * @returns Stretches by the count of the ring, gaps numbered from the first pulse of the longest
 * @see dynamic programming; synchronous averaging (derived)
 * @example matchedRing({ timesS: Float64Array.from({ length: 41 }, (_, k) => k + (k % 2) * 0.4), periodsS: Float64Array.from({ length: 40 }, (_, k) => (k % 2 === 0 ? 1.4 : 0.6)), defaultS: new Float64Array(40).fill(1), spans: [[0, 40]], turn: 2, half: 4, pulsesPerTurn: 2, step: 0 }).stretches[0].matching.pulses.length // 41 ± 0
 */
export function matchedRing(log: RingLog): MatchedRing {
  const { timesS, periodsS, defaultS, spans, turn, half, pulsesPerTurn, step } = log
  const penalty = Math.max(10, Math.log(timesS.length) + 5)
  const defaultAtPulseS = Float64Array.from(timesS, (_, j) => defaultS[Math.min(j, periodsS.length - 1)]!)
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
    // One list for all: a copy for each stretch would make the work grow with their number too.
    const periodAtPulseS = Float64Array.from(defaultAtPulseS)
    for (const stretch of stretches) setUsualAtPulses(periodAtPulseS, stretch, half)
    return spans.map((span) => match(span, periodAtPulseS, gapErrors, spread, oddGaps))
  }

  const share = (i: number) => periodsS[i]! / defaultS[i]!
  const spread = robustSpread(spans, 0, (i) => share(i) - 1)
  const turnToTurn = robustSpread(spans, turn, (i) => (share(i + turn) - share(i)) / Math.SQRT2)
  const first = spans.map((span) => match(span, defaultAtPulseS, NO_RING, Math.min(spread, turnToTurn), true))
  const main = spans.reduce((a, b, index) => (b[1] - b[0] > spans[a]![1] - spans[a]![0] ? index : a), 0)

  const errorsBy = (stretches: readonly Stretch[]) => {
    const stretch = stretches[main]!
    const average = averageOf(stretch, log)
    const gapErrors = alignedErrors(stretch.counted, stretch.meanS, half, turn, average.spread)
    return { gapErrors, passes: average.passes, spread: Math.min(spread, 1.2 * average.spread) }
  }
  const byRing = () => {
    const errors = errorsBy(first)
    // While a count has slipped, the spread about the average is that of the ring: the one from turn to turn is not moved.
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
