import { DomainError } from '../errors.js'
import { exact, type Figure, uncertain } from '../measure/figure.js'
import type { Note } from '../measure/notes.js'
import { sum } from '../measure/propagation.js'
import { median } from '../measure/readings.js'
import { distanceM, geodesicM, offsetM, type TrackPoint } from './geodesic.js'
import { type TrackNoise, trackNoiseM } from './track-noise.js'
import { trackNotes } from './track-notes.js'
import { type Gap, partsOf } from './track-parts.js'
import { type Stand, standingRadiusM, standsOf } from './track-stands.js'

export interface TrackLength {
  readonly lengthM: Figure
  /** Sum of all steps as recorded [m]. */
  readonly recordedM: number
  /** Minimum distance between points used; 0: every point [m]. */
  readonly thinningM: number
  readonly points: number
  readonly pointsUsed: number
  /** Sum of the steps between the points used, before any correction [m]. */
  readonly thinnedM: number
  /** Bias of that sum by noise [m]. */
  readonly noiseBiasM: number
  /** Shortening of the road in bends [m]. */
  readonly cutM: number
  /** Standard uncertainty from noise and bends [m]. */
  readonly uBiasM: number
  /** Noise of a position, per axis, k = 1 [m]; absent: too few points. */
  readonly noiseM?: number
  readonly parts: ReadonlyArray<{ readonly points: number; readonly lengthM: number }>
  readonly gaps: readonly Gap[]
  /** Stops: each counts as one place. */
  readonly stands: readonly Stand[]
  /** Points left out because no car can reach them in the time: index in the order given. */
  readonly leftOut: readonly number[]
  readonly notes: readonly Note[]
}

/** Minimum distances tried [m]; 0 keeps every point. */
const THINNINGS_M = [0, 10, 20, 30, 50, 75, 100, 150, 200, 300, 500]

/** Spacing for the first noise estimate: far enough apart to give a direction of travel [m]. */
const NOISE_SPACING_M = 10

/** A point this many times the noise off the straight line counts as a bend. */
const BEND_IN_NOISE = 4

/** The same where the points are close compared with the noise: among many on one leg some stray far by chance. */
const BEND_IN_DENSE_NOISE = 5.5

/** Minimum tolerance for a bend: below it, the resolution of the file would count as a bend [m]. */
const MIN_TOLERANCE_M = 0.5

/** Above this many times the accuracy an estimate is not noise. */
const MAX_NOISE = 2

/** Allowance for slopes, which make the road longer than its plan: 6 % adds 0.18 %; mean of ordinary roads, common practice. */
const SLOPE_SHARE = 0.0005

/** Steps up to a millimeter count as zero. */
const STANDING_STILL_M = 1e-3

/** Minimum length of a track [m]. */
const MIN_LENGTH_M = 10

/**
 * Indexes of the points to use: the next point at the minimum distance from the last one, or before that the last point for which a
 * straight line still passes all points between within the tolerance. The allowed directions are stored as one sector, so each
 * point is examined once.
 */
function thin(part: readonly TrackPoint[], minM: number, toleranceM: number): number[] {
  if (minM === 0) return part.map((_, index) => index)
  const kept = [0]
  let anchor = 0
  let heading: number | undefined
  let low = 0
  let high = 0
  const restart = (index: number) => {
    kept.push(index)
    anchor = index
    heading = undefined
  }
  for (let i = 1; i < part.length; i++) {
    const { eastM, northM } = offsetM(part[anchor]!, part[i]!)
    const far = Math.hypot(eastM, northM)
    if (far > toleranceM) {
      const direction = Math.atan2(northM, eastM)
      const half = Math.asin(toleranceM / far)
      if (heading === undefined) {
        heading = direction
        low = -half
        high = half
      } else {
        const turned = wrapped(direction - heading)
        if (turned < low || turned > high) {
          restart(i - 1)
          // Examine the point again, from its new anchor.
          i--
          continue
        }
        low = Math.max(low, turned - half)
        high = Math.min(high, turned + half)
      }
    }
    if (far >= minM) restart(i)
  }
  const end = part.length - 1
  if (kept.at(-1) !== end) {
    if (kept.length > 1 && distanceM(part[kept.at(-1)!]!, part[end]!) < minM / 2) kept.pop()
    kept.push(end)
  }
  return kept
}

const isTimed = (part: readonly TrackPoint[]) => part.every(({ timeS }) => timeS !== undefined)

/** Replaces each stop by one point: the scatter of its positions was not driven. */
function withStands(part: readonly TrackPoint[], stands: readonly Stand[]): TrackPoint[] {
  const kept: TrackPoint[][] = []
  let next = 0
  for (const { first, last, place } of stands) {
    kept.push(part.slice(next, first), [place])
    next = last + 1
  }
  kept.push(part.slice(next))
  return kept.flat()
}

const wrapped = (angle: number) => angle - 2 * Math.PI * Math.round(angle / (2 * Math.PI))

interface Thinned {
  readonly thinningM: number
  readonly lengthM: number
  readonly byPart: readonly number[]
  readonly pointsUsed: number
  /** Σ 1/leg: bias per variance of the noise [1/m]. */
  readonly inverseLegs: number
  /** Length of the legs that are as short as the noise, where that bias formula fails [m]. */
  readonly shortM: number
  /** Shortening in bends, if they are round and if they are corners [m]. */
  readonly roundCutM: number
  readonly cornerCutM: number
}

/** An arc of turn θ over a chord d is longer by d·θ²/24; a right-angled corner between two chords by up to this times d·θ². */
const ROUND_CUT = 1 / 24
const CORNER_CUT = 0.25

/** Noise estimate, and the minimum variance of the noise [m, m²]. */
interface Noise {
  readonly sigmaM: number
  readonly minVariance: number
}

const NO_NOISE: Noise = { sigmaM: 0, minVariance: 0 }

/** Sum of the legs for one choice of points, and by how much bends may be longer than their chords. */
function thinned(
  parts: readonly TrackPoint[][],
  thinningM: number,
  toleranceM: number,
  noise: Noise,
): Thinned {
  let inverseLegs = 0
  let shortM = 0
  let roundCutM = 0
  let cornerCutM = 0
  let pointsUsed = 0
  const byPart = parts.map((part) => {
    const kept = thin(part, thinningM, toleranceM)
    pointsUsed += kept.length
    let lengthM = 0
    let before: { eastM: number; northM: number; legM: number } | undefined
    for (let k = 1; k < kept.length; k++) {
      const from = part[kept[k - 1]!]!
      const to = part[kept[k]!]!
      const legM = geodesicM(from, to)
      lengthM += legM
      if (legM <= BEND_IN_NOISE * noise.sigmaM) {
        shortM += legM
        before = undefined
        continue
      }
      inverseLegs += 1 / legM
      const { eastM, northM } = offsetM(from, to)
      if (before !== undefined) {
        const turned = Math.abs(
          Math.atan2(
            before.eastM * northM - before.northM * eastM,
            before.eastM * eastM + before.northM * northM,
          ),
        )
        const meanLegM = (legM + before.legM) / 2
        // Noise also turns legs, by 6·σ²/d² in the mean square.
        const square = turned * turned - (6 * noise.minVariance) / (meanLegM * meanLegM)
        roundCutM += ROUND_CUT * meanLegM * square
        cornerCutM += Math.min(
          CORNER_CUT * meanLegM * square,
          thinningM === 0 ? Number.POSITIVE_INFINITY : toleranceM * Math.tan(turned / 2),
        )
      }
      before = { eastM, northM, legM }
    }
    return lengthM
  })
  return {
    thinningM,
    lengthM: byPart.reduce((total, length) => total + length, 0),
    byPart,
    pointsUsed,
    inverseLegs,
    shortM,
    roundCutM: Math.max(0, roundCutM),
    cornerCutM: Math.max(0, cornerCutM),
  }
}

/** Lower and upper bound of the length from one choice of points. */
interface Bounds {
  readonly of: Thinned
  readonly minBiasM: number
  readonly maxBiasM: number
  readonly maxCutM: number
  readonly lowM: number
  readonly highM: number
}

/**
 * At least half of the estimated variance is noise: bends, and choosing the minimum of three orders, shift it by less. Slow noise shows only 0.6
 * of its variance in such differences (a random walk), so the variance is at most 1/0.6 of the estimate.
 */
const MIN_OF_SEEN = 0.5
const MAX_OF_SEEN = 1 / 0.6

function boundsOf(of: Thinned, minVariance: number, maxNoiseM: number): Bounds {
  const minBiasM = minVariance * of.inverseLegs
  // Legs as short as the noise may be noise alone, of a standing car.
  const maxBiasM = MAX_OF_SEEN * maxNoiseM * maxNoiseM * of.inverseLegs + of.shortM
  const maxCutM = Math.max(2 * of.roundCutM, of.cornerCutM)
  return {
    of,
    minBiasM,
    maxBiasM,
    maxCutM,
    lowM: of.lengthM - maxBiasM,
    highM: of.lengthM - minBiasM + maxCutM,
  }
}

/** Maximum share of the length in legs as short as the noise. */
const SHORT_SHARE = 0.02

/** Minimum variance of the noise from one point to the next: slow noise shows less, the closer they lie. [m²] */
const minVarianceOf = (seen: TrackNoise | undefined) =>
  seen === undefined || seen.ofRoad ? 0 : MIN_OF_SEEN * seen.sigmaM * seen.sigmaM

/**
 * Bounds of the length for each choice of points whose legs are long compared with the noise; the widest thinning if there is none. Each
 * uses the noise at its own spacing.
 */
function choices(
  parts: readonly TrackPoint[][],
  recordedM: number,
  stepM: number,
  seen: TrackNoise | undefined,
  uPositionM: number,
): Bounds[] {
  const sigmaM = seen?.sigmaM ?? 0
  const dense = stepM < BEND_IN_NOISE * sigmaM
  const toleranceM = Math.max(MIN_TOLERANCE_M, (dense ? BEND_IN_DENSE_NOISE : BEND_IN_NOISE) * sigmaM)
  const all = THINNINGS_M.filter(
    (spacing) => spacing === 0 || (spacing > stepM && spacing < recordedM / 10),
  ).map((spacing) => {
    const apart = trackNoiseM(parts, Math.max(spacing, NOISE_SPACING_M, stepM))
    const near = spacing === 0 && stepM < NOISE_SPACING_M ? trackNoiseM(parts, stepM) : apart
    const minVariance = Math.min(minVarianceOf(seen), minVarianceOf(near))
    return boundsOf(
      thinned(parts, spacing, toleranceM, { sigmaM, minVariance }),
      minVariance,
      Math.max(sigmaM, Math.min(apart?.sigmaM ?? uPositionM, uPositionM)),
    )
  })
  const fit = all.filter(({ of }) => of.shortM <= SHORT_SHARE * of.lengthM)
  return fit.length > 0 ? fit : [all.at(-1)!]
}

/**
 * Length of a drive, from recorded positions.
 *
 *     each choice of points: Σ geodesic(leg) − σ₂²·Σ 1/leg <= L <= Σ geodesic(leg) − σ₁²·Σ 1/leg + cut;      L in the intersection of all
 *
 * L is the length, σ₁ and σ₂ are the minimum and the maximum noise compatible with the choice.
 *
 * Position noise makes a track longer, by σ²/leg per leg: a lot when the points are close. Points farther apart shorten
 * bends, by d·θ²/24 for a round one and more for a corner. Points are chosen at several minimum distances, keeping bends; each choice bounds
 * the length, with the noise between the estimate from neighboring points and the one at that distance. Gaps are never bridged: the
 * length is that of the recorded parts. It is a length on the ellipsoid: slope and height enter the uncertainty only.
 *
 * @param segments - Points in order of travel; a new segment where the recording broke off. At least two points in one of them
 * @param uPositionM - Standard uncertainty of a position, per axis, constant over minutes: at both ends of each part. [m]
 * @returns Length with its uncertainty [m], corrections, noise, gaps
 * @throws {DomainError} `too-few-readings`, `times-not-increasing`, `track-without-length`, `out-of-range`
 * @see C. F. F. Karney (2013) for the geodesics; biases: derived (a chord with transverse noise of variance 2σ² is longer by σ²/leg)
 * @example trackLength([[{ latDeg: 0, lonDeg: 0 }, { latDeg: 0, lonDeg: 1 }]], 3).recordedM // 111319.4908 ± 1e-3
 */
export function trackLength(segments: ReadonlyArray<readonly TrackPoint[]>, uPositionM: number): TrackLength {
  const { parts: recorded, gaps, leftOut } = partsOf(segments)
  const recordedM = thinned(recorded, 0, 0, NO_NOISE).lengthM
  const byPart = recorded.map((part) => standsOf(part, standingRadiusM(uPositionM)))
  const parts = recorded.map((part, i) => withStands(part, byPart[i]!))
  const stands = byPart.flat()
  const steps = parts
    .flatMap((part) => part.slice(1).map((point, i) => distanceM(part[i]!, point)))
    .filter((step) => step > STANDING_STILL_M)
  if (steps.length === 0 || steps.reduce((total, step) => total + step, 0) < MIN_LENGTH_M) {
    throw new DomainError('track-without-length', `points: the track is shorter than ${MIN_LENGTH_M} m`, {})
  }
  const stepM = median(steps)
  const shown = trackNoiseM(parts, Math.max(NOISE_SPACING_M, stepM))
  // An estimate above any receiver error is not noise: the points are too far apart to distinguish noise from the road.
  const seen = shown !== undefined && shown.sigmaM <= MAX_NOISE * uPositionM ? shown : undefined
  const noiseM = seen?.sigmaM
  const bounds = choices(parts, recordedM, stepM, seen, uPositionM)
  const best = bounds.reduce((a, b) => (b.highM - b.lowM < a.highM - a.lowM ? b : a))
  const lowM = Math.max(...bounds.map((one) => one.lowM))
  const highM = Math.min(...bounds.map((one) => one.highM))
  const lengthM = (lowM + highM) / 2
  const crossed = lowM > highM
  if (!(lengthM > 0)) {
    throw new DomainError(
      'track-without-length',
      `points: the position noise (${noiseM ?? uPositionM} m) exceeds the distance between them`,
      {},
    )
  }
  const noiseBiasM = (best.minBiasM + best.maxBiasM) / 2
  // Crossed bounds prove that one of them is wrong: then cover them and those of the narrowest choice.
  const reach = crossed ? [lowM, highM, best.lowM, best.highM] : [lowM, highM]
  const halfRangeM = Math.max(...reach.map((end) => Math.abs(end - lengthM)))
  const uBiasM = halfRangeM / Math.sqrt(3)
  const figure = sum(
    exact(lengthM),
    uncertain(0, 'track: position noise and shortened bends', uBiasM),
    uncertain(0, 'track: position of the end points', uPositionM * Math.sqrt(2 * parts.length)),
    uncertain(0, 'track: slope and height of the road', SLOPE_SHARE * lengthM),
  )
  const result = {
    lengthM: figure,
    recordedM,
    thinningM: best.of.thinningM,
    points: recorded.reduce((total, part) => total + part.length, 0),
    pointsUsed: best.of.pointsUsed,
    thinnedM: best.of.lengthM,
    noiseBiasM,
    uBiasM,
    cutM: lengthM - best.of.lengthM + noiseBiasM,
    parts: recorded.map((part, i) => ({ points: part.length, lengthM: best.of.byPart[i]! })),
    gaps,
    stands,
    leftOut,
    notes: trackNotes({
      lengthM: figure,
      stepM,
      noiseM,
      leftOut,
      crossed,
      stands,
      timed: recorded.every(isTimed),
    }),
  }
  return noiseM === undefined ? result : Object.assign(result, { noiseM })
}

/**
 * Whether the car moved during a gap in the recording: then pulses or turns counted throughout do not match the length.
 *
 *     across > 4·√2·u
 *
 * @param gap - The gap
 * @param uPositionM - Standard uncertainty of a position, per axis. [m]
 * @returns Whether the car moved, as far as the positions show
 * @see JCGM 100:2008, 5.1.2 (difference of two positions)
 * @example movedAcross({ afterPart: 0, acrossM: 400 }, 3) // true
 */
export function movedAcross(gap: Gap, uPositionM: number): boolean {
  return gap.acrossM > standingRadiusM(uPositionM)
}
