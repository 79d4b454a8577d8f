import type { TrackPoint } from '../../src/domain/odometers/geodesic.js'
import { noise } from './noise.js'

export interface Road {
  /** Straights and bends in order: length of a straight, or radius and angle (left positive, degrees) of a bend. */
  readonly pieces: ReadonlyArray<{ straightM: number } | { radiusM: number; turnDeg: number }>
}

export interface Recording {
  readonly seed: number
  readonly speedMPerS: number
  readonly everyS: number
  /** Standard deviation of a position, an axis [m]. */
  readonly noiseM: number
  /** Correlation of the noise from one point to the next, 0 for none. */
  readonly correlation?: number
  /** The car stands along the way: so often, for so many points. */
  readonly stops?: { readonly everyM: number; readonly points: number }
}

const DEGREE = Math.PI / 180

/** Length of a road, from its definition. */
export const roadLengthM = ({ pieces }: Road) =>
  pieces.reduce(
    (total, piece) =>
      total + ('straightM' in piece ? piece.straightM : piece.radiusM * Math.abs(piece.turnDeg) * DEGREE),
    0,
  )

/** Point of a road at a chainage: east, north [m]. */
function pointAt({ pieces }: Road, chainageM: number): readonly [number, number] {
  let [east, north, heading, left] = [0, 0, 0, chainageM]
  for (const piece of pieces) {
    if ('straightM' in piece) {
      const go = Math.min(left, piece.straightM)
      east += go * Math.cos(heading)
      north += go * Math.sin(heading)
      left -= go
    } else {
      const sign = Math.sign(piece.turnDeg)
      const go = Math.min(left, piece.radiusM * Math.abs(piece.turnDeg) * DEGREE)
      const after = heading + (sign * go) / piece.radiusM
      east += sign * piece.radiusM * (Math.sin(after) - Math.sin(heading))
      north -= sign * piece.radiusM * (Math.cos(after) - Math.cos(heading))
      heading = after
      left -= go
    }
    if (left <= 0) break
  }
  return [east, north]
}

/**
 * What a receiver records on a road near 48 deg north, with its noise. Meters become degrees by the radii of curvature of the
 * ellipsoid at each point's own latitude, step by step, so that lengths hold to a part in a million.
 */
export function record(
  road: Road,
  { seed, speedMPerS, everyS, noiseM, correlation = 0, stops }: Recording,
): TrackPoint[] {
  const next = noise(seed)
  const lengthM = roadLengthM(road)
  const steps = Math.round(lengthM / (speedMPerS * everyS))
  const e2 = 0.00669437999014
  const a = 6_378_137
  const points: TrackPoint[] = []
  let [latDeg, lonDeg, east, north] = [48, 11, 0, 0]
  let [errorEast, errorNorth] = [noiseM * next(), noiseM * next()]
  const chainages: number[] = []
  for (let i = 0; i <= steps; i++) {
    const here = (lengthM * i) / steps
    const stands =
      stops !== undefined &&
      Math.floor(here / stops.everyM) > Math.floor((chainages.at(-1) ?? 0) / stops.everyM)
    chainages.push(...Array<number>(stands ? stops.points : 1).fill(here))
  }
  for (const [i, chainageM] of chainages.entries()) {
    const [e, n] = pointAt(road, chainageM)
    const middle = latDeg * DEGREE
    const w2 = 1 - e2 * Math.sin(middle) ** 2
    const meridian = (a * (1 - e2)) / w2 ** 1.5
    latDeg += (n - north) / meridian / DEGREE
    const middleLat = latDeg * DEGREE
    lonDeg += (e - east) / ((a / Math.sqrt(1 - e2 * Math.sin(middleLat) ** 2)) * Math.cos(middleLat)) / DEGREE
    ;[east, north] = [e, n]
    const fresh = noiseM * Math.sqrt(1 - correlation * correlation)
    errorEast = correlation * errorEast + fresh * next()
    errorNorth = correlation * errorNorth + fresh * next()
    points.push({
      latDeg: latDeg + errorNorth / meridian / DEGREE,
      lonDeg: lonDeg + errorEast / (a * Math.cos(middleLat)) / DEGREE,
      timeS: i * everyS,
    })
  }
  return points
}
