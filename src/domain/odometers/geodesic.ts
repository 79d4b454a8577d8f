import geographiclib from 'geographiclib-geodesic'
import { finite, within } from '../errors.js'

/** A place on the WGS 84 ellipsoid. */
export interface Place {
  readonly latDeg: number
  readonly lonDeg: number
}

/** A place of a track. */
export interface TrackPoint extends Place {
  /** Seconds since any fixed moment. */
  readonly timeS?: number
}

/** Axes of the WGS 84 ellipsoid: equatorial radius [m] and flattening (defining parameters, exact). */
const EQUATORIAL_RADIUS_M = 6_378_137
const FLATTENING = 1 / 298.257223563
const ECCENTRICITY_SQUARED = FLATTENING * (2 - FLATTENING)
const DEGREE = Math.PI / 180

/**
 * Length of the shortest line between two places on the WGS 84 ellipsoid.
 *
 *     s = geodesic distance (Karney's algorithm)
 *
 * Accurate to some nanometers. A sphere would be wrong by up to 0.56 %, as much as the errors to be found.
 *
 * @param from - Place; latitude -90 .. 90 deg
 * @param to - Place; latitude -90 .. 90 deg
 * @returns s on the ellipsoid, without height or slope. [m]
 * @throws {DomainError} `not-finite`, `out-of-range`
 * @see C. F. F. Karney (2013), Algorithms for geodesics, J. Geodesy 87, 43
 * @example geodesicM({ latDeg: 0, lonDeg: 0 }, { latDeg: 0, lonDeg: 1 }) // 111319.4908 ± 1e-4
 */
export function geodesicM(from: Place, to: Place): number {
  const { s12 } = geographiclib.Geodesic.WGS84.Inverse(
    within('latDeg', from.latDeg, -90, 90),
    finite('lonDeg', from.lonDeg),
    within('latDeg', to.latDeg, -90, 90),
    finite('lonDeg', to.lonDeg),
  )
  return finite('distance', s12 ?? Number.NaN)
}

/** An offset on the ground. */
export interface Offset {
  readonly eastM: number
  readonly northM: number
}

/**
 * Offset from one place to another nearby, in the plane.
 *
 *     east = N(φ)·cos φ·Δλ      north = M(φ)·Δφ      at the middle latitude φ
 *
 * φ is the latitude, λ the longitude, M and N are the radii of curvature.
 *
 * Accurate to a part in a million over 10 km outside the polar regions: enough for shapes and noise, not for the lengths in an answer.
 *
 * @param from - Place
 * @param to - Place within some kilometers
 * @returns East and north. [m]
 * @see radii of curvature of the ellipsoid in the meridian, M, and the prime vertical, N (any textbook of geodesy)
 * @example offsetM({ latDeg: 0, lonDeg: 179.9999 }, { latDeg: 0, lonDeg: -179.9999 }).eastM // 22.2639 ± 1e-4
 */
export function offsetM(from: Place, to: Place): Offset {
  const middle = ((from.latDeg + to.latDeg) / 2) * DEGREE
  const sine = Math.sin(middle)
  const w2 = 1 - ECCENTRICITY_SQUARED * sine * sine
  const primeVerticalM = EQUATORIAL_RADIUS_M / Math.sqrt(w2)
  const meridianM = (primeVerticalM * (1 - ECCENTRICITY_SQUARED)) / w2
  const dLon = eastwardDeg(from, to)
  return {
    eastM: primeVerticalM * Math.cos(middle) * dLon * DEGREE,
    northM: meridianM * (to.latDeg - from.latDeg) * DEGREE,
  }
}

/**
 * Difference in longitude from one place to another.
 *
 *     Δλ, less or plus a full turn where it passes half of one
 *
 * λ is the longitude.
 *
 * @param from - Place
 * @param to - Place
 * @returns Δλ, -180 .. 180 deg; below zero to the west
 * @see definition of longitude
 * @example eastwardDeg({ latDeg: 0, lonDeg: 179 }, { latDeg: 0, lonDeg: -179 }) // 2 ± 0
 */
export function eastwardDeg(from: Place, to: Place): number {
  const turned = (to.lonDeg - from.lonDeg) % 360
  if (turned > 180) return turned - 360
  return turned < -180 ? turned + 360 : turned
}

/** Maximum distance for the plane approximation. [m] */
const NEARBY_M = 2000

/**
 * Distance between two places, in the plane where they are near each other, which is faster.
 *
 *     s = √(east² + north²) below 2 km, else the geodesic
 *
 * @param from - Place
 * @param to - Place
 * @returns s, to a part in a million outside the polar regions. [m]
 * @throws {DomainError} `not-finite`, `out-of-range`
 * @see radii of curvature (any textbook of geodesy); C. F. F. Karney (2013)
 * @example distanceM({ latDeg: 0, lonDeg: 0 }, { latDeg: 0, lonDeg: 0.001 }) // 111.3195 ± 1e-3
 */
export function distanceM(from: Place, to: Place): number {
  const { eastM, northM } = offsetM(from, to)
  const straightM = Math.hypot(eastM, northM)
  return straightM < NEARBY_M ? straightM : geodesicM(from, to)
}
