import { median } from '../measure/readings.js'
import { type Offset, offsetM, type Place } from './geodesic.js'

/** Minimum number of groups of points for a noise estimate. */
const MIN_GROUPS = 8

/** Median of |z| of a standard normal variable. */
const MEDIAN_ABSOLUTE = 0.6744897501960817

/** Maximum number of starting points: enough for two digits, and bounded in time on the longest track. */
const MAX_STARTS = 2000

/** Maximum number of points examined from each. */
const FARTHEST_AHEAD = 1000

/** Noise gives equal estimates from differences of any order, a winding road does not: beyond this ratio the road shows. */
const AGREEMENT = 1.2

export interface TrackNoise {
  /** Standard deviation of a position, per axis [m]. */
  readonly sigmaM: number
  /** The orders disagree: part or all of the estimate is the shape of the road. */
  readonly ofRoad: boolean
}

/** Numbers of consecutive points compared: k of them are insensitive to a road whose shape is a polynomial of degree k - 2. */
const FEWEST_IN_A_ROW = 4
const MAX_IN_A_ROW = 6

/**
 * Contrast of k points across the line from the first to the last, insensitive to any polynomial of degree k - 2, normalized to
 * unit noise.
 *
 *     z = Σ wⱼ·yⱼ / √Σ wⱼ²,  wⱼ = 1/Π (sⱼ − sₖ) over k ≠ j;  s along the line, y across it
 */
function contrast(offsets: readonly Offset[]): number | undefined {
  const last = offsets.at(-1)!
  const span = Math.hypot(last.eastM, last.northM)
  if (span === 0) return undefined
  const east = last.eastM / span
  const north = last.northM / span
  const s = offsets.map((o) => o.eastM * east + o.northM * north)
  // A vehicle that stands or turns back gives no line of reference.
  if (s.some((here, i) => i > 0 && here <= s[i - 1]!)) return undefined
  let total = 0
  let squares = 0
  for (const [j, { eastM, northM }] of offsets.entries()) {
    let w = 1
    for (let k = 0; k < s.length; k++) if (k !== j) w *= span / (s[j]! - s[k]!)
    total += w * (northM * east - eastM * north)
    squares += w * w
  }
  return total / Math.sqrt(squares)
}

/**
 * Position noise of a track, per axis, at one spacing.
 *
 *     σ = median |z| / 0.6745,  z the divided difference of 4, 5 or 6 points across the direction of travel, normalized to unit
 *     noise; the minimum of the three
 *
 * Such differences are insensitive to straight lines and to uniform bends; the median is insensitive to the places where the bend changes. Slowly
 * drifting noise shows less the closer the points, so use the spacing at which the track is measured.
 *
 * @param segments - Places in order of travel, each segment unbroken
 * @param spacingM - Minimum distance between the points compared. [m, > 0]
 * @returns σ, and whether it may be the road instead of noise; undefined with too few points
 * @see NIST/SEMATECH e-Handbook 1.3.5.6 (median absolute deviation); divided differences: derived
 * @example trackNoiseM([Array.from({ length: 40 }, (_, i) => ({ latDeg: 0, lonDeg: i * 2e-4 }))], 10).sigmaM // 0 ± 1e-6
 */
export function trackNoiseM(
  segments: ReadonlyArray<readonly Place[]>,
  spacingM: number,
): TrackNoise | undefined {
  const found: number[][] = []
  const places = segments.reduce((total, segment) => total + segment.length, 0)
  const stride = Math.max(1, Math.ceil(places / MAX_STARTS))
  for (const segment of segments) {
    for (let start = 0; start < segment.length; start += stride) {
      const offsets = ahead(segment, start, spacingM)
      for (let k = FEWEST_IN_A_ROW; k <= offsets.length; k++) {
        const z = contrast(offsets.slice(0, k))
        if (z === undefined) continue
        found[k] ??= []
        found[k]!.push(Math.abs(z))
      }
    }
  }
  const sigmas = found.flatMap((zs) => (zs.length < MIN_GROUPS ? [] : [median(zs) / MEDIAN_ABSOLUTE]))
  if (sigmas.length === 0) return undefined
  const sigmaM = Math.min(...sigmas)
  return { sigmaM, ofRoad: Math.max(...sigmas) > AGREEMENT * sigmaM }
}

/** Offsets of the next points at least that far apart. Bounded, so that an hour's stop is not searched to its end. */
function ahead(segment: readonly Place[], start: number, spacingM: number): Offset[] {
  const origin = segment[start]!
  let from: Offset = { eastM: 0, northM: 0 }
  const offsets = [from]
  const end = Math.min(segment.length, start + FARTHEST_AHEAD)
  for (let i = start + 1; i < end && offsets.length < MAX_IN_A_ROW; i++) {
    const here = offsetM(origin, segment[i]!)
    if (Math.hypot(here.eastM - from.eastM, here.northM - from.northM) < spacingM) continue
    offsets.push(here)
    from = here
  }
  return offsets
}
