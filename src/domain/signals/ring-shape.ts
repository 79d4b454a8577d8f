import { normalCdf } from '../measure/distributions.js'
import type { Mutable } from '../mutable.js'
import type { RingAverage } from './ring-average.js'

/** Probability of calling an even ring uneven. */
const EVEN_RING_CALLED_UNEVEN = 0.003

/** Upper bound of the two-sided probability that the largest of `of` standard normal values reaches z. */
const chanceOfLargest = (z: number, of: number) => Math.min(1, 2 * of * normalCdf(-z))

export interface RingVerdict {
  readonly significant: boolean
  readonly chance: number
  readonly worst: number
  readonly rms: number
}

/**
 * Whether the errors of a ring are significant and larger than the steps of the timer.
 *
 *     chance = 2·N·Φ(−max |eᵢ|/u(eᵢ)) < 0.003   and   max |eᵢ| > 1.5 steps
 *
 * N is the number of gaps passed at least three times, eᵢ their errors.
 *
 * @param average - Errors of the gaps, their uncertainties and passes
 * @param step - Step of the timer as a share of a period; 0 if unknown
 * @returns Verdict, largest error and rms error
 * @see Bonferroni's bound on the largest of N (derived)
 * @example judgeRing({ gapErrors: Float64Array.of(0.02, -0.02), passes: Int32Array.of(9, 9), uncertainty: Float64Array.of(0.001, 0.001) }, 0).significant // true
 * @example judgeRing({ gapErrors: Float64Array.of(0.02, -0.02), passes: Int32Array.of(9, 9), uncertainty: Float64Array.of(0.01, 0.01) }, 0).significant // false
 */
export function judgeRing(
  average: Pick<RingAverage, 'gapErrors' | 'passes' | 'uncertainty'>,
  step: number,
): RingVerdict {
  let largest = 0
  let worst = 0
  let squares = 0
  let seen = 0
  for (const [gap, error] of average.gapErrors.entries()) {
    const u = average.uncertainty[gap]!
    worst = Math.max(worst, Math.abs(error))
    squares += error * error
    if (average.passes[gap]! < 3) continue
    seen++
    if (u > 0) largest = Math.max(largest, Math.abs(error) / u)
    else if (error !== 0) largest = 40
  }
  const chance = seen === 0 ? 1 : chanceOfLargest(largest, seen)
  return {
    chance,
    worst,
    rms: Math.sqrt(squares / average.gapErrors.length),
    // At a very even speed, the rounding of the timer repeats every turn: errors below a step are not evidence.
    significant: chance < EVEN_RING_CALLED_UNEVEN && worst > Math.max(1.5 * step, 1e-6),
  }
}

/** The once-per-turn wave in the errors of a ring. */
export interface RingWave {
  /** Amplitude as an offset of the center over the pitch radius. */
  readonly eccentricity: number
  readonly widestGap: number
  /** Share of the variance of the errors. */
  readonly share: number
  /** Whether to report it as a fault of the ring. */
  readonly plain: boolean
}

/** Two odd gaps half a turn apart, as on a ring cut in halves. */
export interface RingJoint {
  readonly gaps: readonly [number, number]
  /** Extra width of each compared with the rest, as a share of the pitch. */
  readonly widths: readonly [number, number]
}

export interface RingShape {
  readonly wave: RingWave
  readonly joint?: RingJoint
}

/** Minimum share of the variance without the wave that a joint explains. */
const JOINT_SHARE = 0.7
/** Maximum probability that random gap errors look as much like a joint. */
const LOOKS_LIKE_JOINT = 0.05
/** Minimum share of the variance without the joint that a wave explains to be reported. */
const WAVE_SHARE = 0.6
/** Minimum size of a second pattern worth reporting, as a share of the pitch. */
const MIN_PATTERN = 0.002
/** Rings with up to this many gaps have too few to test a joint and a wave against random errors: almost any errors fit both. */
const FEW_GAPS = 5
/** Minimum share of the variance of a joint on such rings. */
const FEW_GAPS_SHARE = 0.6
/** Minimum number of gaps to distinguish two different widths from a wave. */
const GAPS_FOR_TWO_WIDTHS = 8

const squaresOf = (values: Float64Array) => values.reduce((total, value) => total + value * value, 0)

const angleOf = (gap: number, n: number) => (2 * Math.PI * (gap + 0.5)) / n

/** Cosine and sine part of the once-per-turn wave; the position of a gap is midway between its edges. */
function waveIn(errors: Float64Array): { cosine: number; sine: number } {
  const n = errors.length
  let cosine = 0
  let sine = 0
  for (let gap = 0; gap < n; gap++) {
    cosine += (2 / n) * errors[gap]! * Math.cos(angleOf(gap, n))
    sine += (2 / n) * errors[gap]! * Math.sin(angleOf(gap, n))
  }
  return { cosine, sine }
}

interface FittedJoint extends RingJoint {
  /** Sum of squares that it explains, of what remains without the wave. */
  readonly squares: number
}

/** Best-fitting pair of odd gaps half a turn apart, of equal or of separate widths, fitted together with a wave. */
function fitJoint(errors: Float64Array, equal: boolean): FittedJoint {
  const n = errors.length
  const half = n >> 1
  const { cosine, sine } = waveIn(errors)
  const left = errors.map(
    (error, gap) => error - cosine * Math.cos(angleOf(gap, n)) - sine * Math.sin(angleOf(gap, n)),
  )
  // Residual of one odd gap after removing mean and wave: at the gap itself, and at the one half a turn away.
  const itself = 1 - 3 / n
  const other = -1 / n - (2 / n) * Math.cos((2 * Math.PI * half) / n)
  const together = 2 * (itself + other)
  const apart = 2 * (itself - other)
  let best: FittedJoint = { gaps: [0, half], widths: [0, 0], squares: 0 }
  for (let gap = 0; gap < (n % 2 === 0 ? half : n); gap++) {
    const opposite = (gap + half) % n
    const sum = left[gap]! + left[opposite]!
    const difference = equal ? 0 : left[gap]! - left[opposite]!
    // With four gaps, two narrow ones are equivalent to the other two being wide.
    if (n === 4 && sum < 0) continue
    const squares = sum ** 2 / together + (equal ? 0 : difference ** 2 / apart)
    if (squares <= best.squares) continue
    const mean = sum / together
    const deviation = equal ? 0 : difference / apart
    const widths = [mean + deviation, mean - deviation] as const
    best =
      gap < opposite
        ? { gaps: [gap, opposite], widths, squares }
        : { gaps: [opposite, gap], widths: [widths[1], widths[0]], squares }
  }
  return best
}

/** A late edge widens one gap and narrows the next: noise of such edges has up to twice the variance in a pattern. */
const noiseIn = (uncertainty: number) => 2 * uncertainty * uncertainty

/** Whether a pattern with this sum of squares exceeds the noise of the averages: tail of χ² with two degrees of freedom. */
const beyondNoise = (squares: number, uncertainty: number, places: number) =>
  places * Math.exp(-squares / (2 * noiseIn(uncertainty))) < EVEN_RING_CALLED_UNEVEN

function jointIn(errors: Float64Array, uncertainty: number): RingJoint | undefined {
  const n = errors.length
  if (n < 4) return undefined
  const all = squaresOf(errors)
  const { cosine, sine } = waveIn(errors)
  const left = all - ((cosine * cosine + sine * sine) * n) / 2
  if (!(left > 1e-12 * all)) return undefined
  const pairs = n % 2 === 0 ? n / 2 : n
  const isSeen = ({ squares, widths }: FittedJoint) =>
    Math.max(...widths.map(Math.abs)) > MIN_PATTERN && beyondNoise(squares, uncertainty, pairs)
  const isUnlikeRandom = ({ squares }: FittedJoint, widths: number) => {
    if (n <= FEW_GAPS) return squares >= FEW_GAPS_SHARE * all && left - squares <= 9 * noiseIn(uncertainty)
    const share = Math.min(1, squares / left)
    return share > JOINT_SHARE && pairs * (1 - share) ** ((n - 3 - widths) / 2) < LOOKS_LIKE_JOINT
  }
  const equal = fitJoint(errors, true)
  if (isSeen(equal) && isUnlikeRandom(equal, 1)) return equal
  if (n < GAPS_FOR_TWO_WIDTHS) return undefined
  const unequal = fitJoint(errors, false)
  return isSeen(unequal) && isUnlikeRandom(unequal, 2) ? unequal : undefined
}

/**
 * Kind of errors of a ring: out of true, cut in halves, or both.
 *
 *     eᵢ = a·cos(2π(i + ½)/N − φ) + w₁·[i = g] + w₂·[i = g + N/2] − mean,   by least squares over all g
 *     probability that random errors look like a joint <= pairs·(1 − share)^((N − 3 − widths)/2);   e/r = a·(π/N)/sin(π/N)
 *
 * eᵢ are the errors of the N gaps, a and φ amplitude and phase of the wave, g the first gap at the joint, w₁ and w₂ the extra widths of
 * its two gaps, e the offset of the center, r the pitch radius.
 *
 * A joint is reported if it explains more than 0.7 of the variance without the wave and random errors would look like it in at most
 * one ring in 20; equal widths are tried first, then, from eight gaps on, different ones. On four or five gaps, where almost any
 * errors fit a joint and a wave, it must explain 0.6 of the variance and leave no more than noise. A wave is reported if it explains
 * more than 0.6 of the variance without the joint.
 *
 * @param errors - Errors of the gaps as shares of the pitch, centered. At least one
 * @param uncertainty - Standard uncertainty of an error
 * @returns Once-per-turn wave, and the joint if there is one
 * @see least squares; errors over a turn sum to zero; spherical cap (derived). Rings in halves: common practice, no source
 * @example ringShape(Float64Array.of(0.15, -0.05, -0.05, -0.05, 0.15, -0.05, -0.05, -0.05), 0.001).joint.gaps // [0,4]
 * @example ringShape(Float64Array.of(0.15, -0.05, -0.05, -0.05, 0.15, -0.05, -0.05, -0.05), 0.001).joint.widths[0] // 0.2 ± 1e-12
 */
export function ringShape(errors: Float64Array, uncertainty: number): RingShape {
  const n = errors.length
  const joint = jointIn(errors, uncertainty)
  const rest = errors.map((error, gap) => {
    if (joint === undefined) return error
    const [first, second] = joint.widths
    const odd = gap === joint.gaps[0] ? first : gap === joint.gaps[1] ? second : 0
    return error - odd + (first + second) / n
  })
  const { cosine, sine } = waveIn(rest)
  const amplitude = Math.hypot(cosine, sine)
  const waveSquares = n < 3 ? 0 : (amplitude * amplitude * n) / 2
  const shareOf = (squares: number) => (squares === 0 ? 0 : Math.min(1, waveSquares / squares))
  const widest = (((Math.atan2(sine, cosine) / (2 * Math.PI)) * n - 0.5) % n) + n
  const seen = joint === undefined || (amplitude > MIN_PATTERN && beyondNoise(waveSquares, uncertainty, 1))
  const shape: Mutable<RingShape> = {
    wave: {
      // A gap is the difference of two edges on the wave: its amplitude is smaller by sin(π/n)/(π/n).
      eccentricity: n < 3 ? 0 : (amplitude * Math.PI) / n / Math.sin(Math.PI / n),
      widestGap: Math.round(widest) % n,
      share: shareOf(squaresOf(errors)),
      plain: seen && shareOf(squaresOf(rest)) > WAVE_SHARE,
    },
  }
  if (joint !== undefined) shape.joint = { gaps: joint.gaps, widths: joint.widths }
  return shape
}
