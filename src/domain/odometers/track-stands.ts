import { median } from '../measure/readings.js'
import { distanceM, eastwardDeg, type Place, type TrackPoint } from './geodesic.js'

/** A stop: the points recorded while the car stood, from the first to the last. */
export interface Stand {
  readonly first: number
  readonly last: number
  readonly place: Place
  readonly lastsS: number
}

/** The positions of a standing car scatter by at most this many times their standard uncertainty. */
const STANDING = 4

/** A car slower than this over the width of the scatter counts as standing: such a speed is not distinguishable from noise. [m/s] */
const STANDING_M_PER_S = 1

/** Iterations of the center of a stop; more of them change nothing. */
const ROUNDS = 4

/**
 * Maximum distance between the positions of a standing car.
 *
 *     r = 4·√2·u
 *
 * @param uPositionM - Standard uncertainty of a position, per axis. [m]
 * @returns r [m]
 * @see JCGM 100:2008, 5.1.2 (difference of two positions)
 * @example standingRadiusM(3) // 16.9706 ± 1e-4
 */
export function standingRadiusM(uPositionM: number): number {
  return STANDING * Math.SQRT2 * uPositionM
}

/** The center of some points: medians of east and north. */
function middleOf(points: readonly TrackPoint[], first: number, last: number): Place {
  const origin = points[first]!
  const around = points.slice(first, last + 1)
  return {
    latDeg: origin.latDeg + median(around.map(({ latDeg }) => latDeg - origin.latDeg)),
    lonDeg: origin.lonDeg + median(around.map((point) => eastwardDeg(origin, point))),
  }
}

/**
 * Stops of a car.
 *
 *     |xⱼ − c| ≤ r for every point of a stop, and it lasts r / (1 m/s) or longer;  c the median place of its points
 *
 * Needs a time at every point. A car that moves slower than 1 m/s over r is not distinguishable from one that stands.
 *
 * @param points - Points in order of travel, unbroken
 * @param radiusM - r, maximum distance between the positions of a standing car. [m, > 0]
 * @returns Stops in order, without common points; none where a point lacks its time
 * @see derived from the spread of the positions; 1 m/s: common practice, no source
 * @example standsOf(Array.from({ length: 60 }, (_, i) => ({ latDeg: 0, lonDeg: i < 30 ? i * 1e-4 : 30e-4, timeS: i })), 10).map(({ lastsS }) => lastsS) // [29]
 */
export function standsOf(points: readonly TrackPoint[], radiusM: number): Stand[] {
  const times = points.flatMap(({ timeS }) => timeS ?? [])
  if (times.length < points.length) return []
  const minS = radiusM / STANDING_M_PER_S
  const isNear = (place: Place, index: number) => distanceM(place, points[index]!) <= radiusM
  const stands: Stand[] = []
  let start = 0
  let free = 0
  let end = 0
  while (end < points.length) {
    if (times[end]! - times[start]! < minS) {
      end++
      continue
    }
    if (!isNear(points[start]!, end)) {
      start++
      continue
    }
    let place = middleOf(points, start, end)
    let [first, last] = [start, start]
    while (last < end && isNear(place, last)) last++
    if (last < end || !isNear(place, end)) {
      // Skip half of the points examined, so that the search is bounded on every track.
      start += 1 + Math.floor((end - start) / 2)
      continue
    }
    for (let round = 0; round < ROUNDS; round++) {
      const count = last - first
      while (first > free && isNear(place, first - 1)) first--
      while (last + 1 < points.length && isNear(place, last + 1)) last++
      if (last - first === count) break
      place = middleOf(points, first, last)
    }
    stands.push({ first, last, place, lastsS: times[last]! - times[first]! })
    start = last + 1
    free = start
    end = Math.max(end, start)
  }
  return stands
}

/**
 * Total duration of the stops.
 *
 *     Σ of the duration of each stop
 *
 * @param stands - Stops
 * @returns The sum. [s]
 * @see the definition of a sum
 * @example standingS([{ first: 0, last: 9, place: { latDeg: 0, lonDeg: 0 }, lastsS: 9 }]) // 9 ± 0
 */
export function standingS(stands: readonly Stand[]): number {
  return stands.reduce((total, { lastsS }) => total + lastsS, 0)
}
