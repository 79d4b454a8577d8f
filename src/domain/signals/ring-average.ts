import { median } from '../measure/readings.js'
import type { Matching } from './pulse-matching.js'

/** A stretch of a log with one time for each pulse of the ring; missed pulses are interpolated. */
export interface CountedPulses {
  /** Time of each pulse of the ring. [s] */
  readonly timesS: Float64Array
  /** 1 if it was recorded; a missed pulse is interpolated between its neighbors. */
  readonly recorded: Uint8Array
}

/**
 * Times of every pulse of the ring, from the recorded ones.
 *
 *     t(k) = linear interpolation between the recorded neighbors, corrected for the errors of the ring
 *
 * @param timesS - Times of the recorded pulses of the log. [s]
 * @param matching - Assignment of recorded pulses to pulses of the ring
 * @param gapErrors - Errors of the gaps of a turn; zero while unknown
 * @returns Time of each pulse of the ring
 * @see linear interpolation (derived)
 * @example countedPulses(Float64Array.of(0, 1, 3), { pulses: Int32Array.of(0, 1, 2), counts: Int32Array.of(0, 1, 3), phase: 0 }, new Float64Array(4)).timesS.join() // "0,1,2,3"
 */
export function countedPulses(
  timesS: Float64Array,
  matching: Matching,
  gapErrors: Float64Array,
): CountedPulses {
  const { pulses, counts, phase } = matching
  const turn = gapErrors.length
  const length = counts[counts.length - 1]! + 1
  const filled = new Float64Array(length)
  const recorded = new Uint8Array(length)
  for (let place = 0; place < pulses.length; place++) {
    const count = counts[place]!
    const time = timesS[pulses[place]!]!
    filled[count] = time
    recorded[count] = 1
    if (place === 0) continue
    const last = counts[place - 1]!
    const steps = count - last
    if (steps === 1) continue
    let total = 0
    for (let k = last; k < count; k++) total += 1 + gapErrors[(k + phase) % turn]!
    let passed = 0
    for (let k = last; k < count - 1; k++) {
      passed += 1 + gapErrors[(k + phase) % turn]!
      filled[k + 1] = filled[last]! + ((time - filled[last]!) * passed) / total
    }
  }
  return { timesS: filled, recorded }
}

/**
 * Half-width in pulses of the window for mean periods.
 *
 *     2h is a whole number of turns and at least eight pulses
 *
 * @param pulsesPerTurn - Gaps of the ring. [>= 1]
 * @returns h
 * @see errors over a turn sum to zero (derived); eight pulses limit the influence of the two end edges
 * @example [1, 2, 3, 8, 17].map(windowHalf) // [4,4,6,4,17]
 */
export function windowHalf(pulsesPerTurn: number): number {
  const unit = pulsesPerTurn % 2 === 0 ? pulsesPerTurn / 2 : pulsesPerTurn
  return unit * Math.ceil(4 / unit)
}

/**
 * Mean period around each pulse of the ring, over whole turns: free of ring errors.
 *
 *     P(k) = (t(k + h) − t(k − h))/(2h),  2h is a whole number of turns
 *
 * Within h of an end, the mean period of the nearest full window is extrapolated along its trend.
 *
 * @param timesS - Times of the pulses of the ring. [s]; more than 2h
 * @param half - h, from `windowHalf`
 * @returns Mean period at each pulse. [s]
 * @see errors over a turn sum to zero (derived)
 * @example turnMeanPeriods(Float64Array.of(0, 3, 4, 7, 8, 11, 12, 15, 16), 2).join() // "2,2,2,2,2,2,2,2,2"
 */
export function turnMeanPeriods(timesS: Float64Array, half: number): Float64Array {
  const n = timesS.length
  const periods = new Float64Array(n)
  for (let k = half; k < n - half; k++) periods[k] = (timesS[k + half]! - timesS[k - half]!) / (2 * half)
  const first = half
  const last = n - half - 1
  const reach = Math.min(2 * half, last - first)
  const trend = (at: number, towards: number) =>
    reach === 0 ? 0 : (periods[at]! - periods[at + towards * reach]!) / reach
  const head = trend(first, 1)
  const tail = trend(last, -1)
  for (let k = 0; k < first; k++)
    periods[k] = Math.max(periods[first]! / 4, periods[first]! + head * (first - k))
  for (let k = last + 1; k < n; k++)
    periods[k] = Math.max(periods[last]! / 4, periods[last]! + tail * (k - last))
  return periods
}

/** Errors of the gaps of a ring, averaged over its turns. */
export interface RingAverage {
  readonly gapErrors: Float64Array
  /** Number of passes in each mean. */
  readonly passes: Int32Array
  /** Standard uncertainty of each mean. */
  readonly uncertainty: Float64Array
  /** Residual spread of a period without the ring errors, as a share of it. */
  readonly spread: number
  /** Correlation of the residuals of successive periods: −0.5 for independent edges, 0 for a varying speed. */
  readonly nextCorrelation: number
  readonly periods: number
}

/** Residuals beyond this many spreads are excluded from later rounds. */
const CUT = 6

/** Calls `take` with each period between recorded neighbors: its gap and its relative deviation from the mean period. */
function eachPeriod(
  { timesS, recorded }: CountedPulses,
  meanS: Float64Array,
  half: number,
  phase: number,
  turn: number,
  take: (gap: number, residual: number, afterNeighbor: boolean, k: number) => void,
): void {
  let neighbor = false
  for (let k = half; k < timesS.length - half - 1; k++) {
    if (recorded[k] === 0 || recorded[k + 1] === 0) {
      neighbor = false
      continue
    }
    const mean = (meanS[k]! + meanS[k + 1]!) / 2
    take((k + phase) % turn, (timesS[k + 1]! - timesS[k]!) / mean - 1, neighbor, k)
    neighbor = true
  }
}

/** Errors shifted to sum to zero over a turn; gaps that were never passed, beside a missing tooth, share the remainder of the sum. */
function centered(means: Float64Array, passes: Int32Array): Float64Array {
  const seen = means.filter((_, gap) => passes[gap]! > 0)
  const total = seen.reduce((sum, mean) => sum + mean, 0)
  const unseen = means.length - seen.length
  if (unseen > 0) return means.map((mean, gap) => (passes[gap]! > 0 ? mean : -total / unseen))
  return means.map((mean) => mean - total / means.length)
}

/**
 * Errors of the gaps of a ring by synchronous averaging: what repeats every turn remains, the rest averages out.
 *
 *     ēᵢ = mean over turns of ((t(k + 1) − t(k))/P − 1),  k ≡ i;   u(ēᵢ) = s/√passes
 *
 * P is the mean period, s the spread of the residuals.
 *
 * Periods with a missed pulse at either end and periods within half a window of an end of the stretch are excluded; so are,
 * in later rounds, periods more than six spreads off.
 *
 * @param pulses - Time of each pulse of the ring
 * @param meanS - Mean period at each pulse, over whole turns. [s]
 * @param half - Half-width of the window of those means
 * @param phase - Gap that follows pulse 0
 * @param pulsesPerTurn - Gaps of the ring
 * @returns Errors, centered, with their uncertainty, and the residual spread
 * @see synchronous averaging; JCGM 100:2008, 4.2.3 (uncertainty of a mean)
 * @example ringAverage({ timesS: Float64Array.from({ length: 41 }, (_, k) => k + (k % 2) * 0.1), recorded: new Uint8Array(41).fill(1) }, new Float64Array(41).fill(1), 4, 0, 2).gapErrors[0] // 0.1 ± 1e-12
 */
export function ringAverage(
  pulses: CountedPulses,
  meanS: Float64Array,
  half: number,
  phase: number,
  pulsesPerTurn: number,
): RingAverage {
  let gapErrors: Float64Array = new Float64Array(pulsesPerTurn)
  let passes = new Int32Array(pulsesPerTurn)
  let spread = Number.POSITIVE_INFINITY
  let periods = 0
  let together = 0
  let pairs = 0
  for (let round = 0; round < 3; round++) {
    const cut = CUT * spread
    const sums = new Float64Array(pulsesPerTurn)
    const counts = new Int32Array(pulsesPerTurn)
    let squares = 0
    let before = 0
    periods = 0
    together = 0
    pairs = 0
    const errors = gapErrors
    eachPeriod(pulses, meanS, half, phase, pulsesPerTurn, (gap, residual, afterNeighbor) => {
      const left = residual - errors[gap]!
      if (Math.abs(left) > cut) {
        before = 0
        return
      }
      sums[gap]! += residual
      counts[gap]!++
      squares += left * left
      periods++
      if (afterNeighbor) {
        together += left * before
        pairs++
      }
      before = left
    })
    // Each mean takes one degree of freedom.
    if (periods > pulsesPerTurn)
      spread = Math.sqrt(squares / (round === 0 ? periods : periods - pulsesPerTurn))
    if (round < 2)
      gapErrors = centered(
        sums.map((sum, gap) => sum / counts[gap]!),
        counts,
      )
    passes = counts
  }
  if (!Number.isFinite(spread)) spread = 0
  return {
    gapErrors,
    passes,
    uncertainty: gapErrors.map((_, gap) => (passes[gap] === 0 ? 0 : spread / Math.sqrt(passes[gap]!))),
    spread,
    nextCorrelation: pairs === 0 || spread === 0 ? 0 : together / pairs / (spread * spread),
    periods,
  }
}

/** Turns per block; the averages of the blocks are aligned with each other. */
const BLOCK_TURNS = 16

/** Shift in gaps that maximizes the correlation of errors with a reference; 0 unless that is significant. */
function phaseOf(reference: Float64Array, errors: Float64Array, uncertainty: number): number {
  const turn = reference.length
  let size = 0
  for (const error of reference) size += error * error
  const correlation = (phase: number) => {
    let total = 0
    for (let gap = 0; gap < turn; gap++) total += reference[(gap + phase) % turn]! * errors[gap]!
    return total
  }
  const margin = 5 * uncertainty * Math.sqrt(2 * size)
  let best = 0
  let strongest = correlation(0) + margin
  for (let phase = 1; phase < turn; phase++) {
    const value = correlation(phase)
    if (value > strongest) {
      strongest = value
      best = phase
    }
  }
  return best
}

/**
 * Errors of a ring from a stretch in which the count may have slipped: blocks of turns are averaged separately and aligned.
 *
 *     phase of a block = the shift that maximizes the correlation of its errors with the other blocks, if significant
 *
 * @param pulses - Time of each pulse of the ring
 * @param meanS - Mean period at each pulse, over whole turns. [s]
 * @param half - Half-width of the window of those means
 * @param pulsesPerTurn - Gaps of the ring
 * @param spread - Residual spread of a period, as a share of it
 * @returns Errors of the gaps, numbered from the first block
 * @see synchronous averaging; cross-correlation (derived)
 * @example alignedErrors({ timesS: Float64Array.from({ length: 41 }, (_, k) => k + (k % 2) * 0.1), recorded: new Uint8Array(41).fill(1) }, new Float64Array(41).fill(1), 4, 2, 0.01)[0] // 0.1 ± 1e-12
 */
export function alignedErrors(
  pulses: CountedPulses,
  meanS: Float64Array,
  half: number,
  pulsesPerTurn: number,
  spread: number,
): Float64Array {
  const turn = pulsesPerTurn
  const length = BLOCK_TURNS * turn
  const blocks = Math.max(1, Math.floor((pulses.timesS.length - 2 * half - 1) / length))
  const residuals = Array.from({ length: blocks }, () => Array.from({ length: turn }, (): number[] => []))
  eachPeriod(pulses, meanS, half, 0, turn, (gap, residual, _afterNeighbor, k) => {
    residuals[Math.min(blocks - 1, Math.floor((k - half) / length))]![gap]!.push(residual)
  })
  const means = residuals.map((gaps) =>
    centered(
      Float64Array.from(gaps, (passes) => (passes.length === 0 ? 0 : median(passes))),
      Int32Array.from(gaps, ({ length }) => length),
    ),
  )
  let total = means[0]!
  // Twice: the first round aligns each block with the blocks before it, the second with all blocks.
  for (let round = 0; round < 2; round++) {
    const next = new Float64Array(turn)
    for (const [block, errors] of means.entries()) {
      const reference = round === 0 && block > 0 ? next.map((value) => value / block) : total
      const phase = phaseOf(reference, errors, spread / Math.sqrt(BLOCK_TURNS))
      for (let gap = 0; gap < turn; gap++) next[(gap + phase) % turn]! += errors[gap]!
    }
    total = next.map((value) => value / blocks)
  }
  return total
}
