import { DomainError } from '../errors.js'
import { median } from '../measure/readings.js'
import { distanceM, geodesicM, type TrackPoint } from './geodesic.js'

/** A gap in the recording, which is not bridged. */
export interface Gap {
  /** Index of the unbroken part before the gap, from 0. */
  readonly afterPart: number
  /** Straight-line distance across the gap [m]. */
  readonly acrossM: number
  readonly lastsS?: number
}

/** A point that would need more than this speed there and back is a position error. [m/s] */
const IMPOSSIBLE_M_PER_S = 100

/** A pause counts as a gap in the recording if it is this many times the median interval, and at least this long. */
const BREAK_FACTOR = 10
const BREAK_LEAST_S = 30
const BREAK_LEAST_M = 500

/** A track by its unbroken parts. */
export interface TrackParts {
  readonly parts: TrackPoint[][]
  readonly gaps: Gap[]
  readonly leftOut: number[]
}

function checkTimes(segments: ReadonlyArray<readonly TrackPoint[]>): void {
  let index = 0
  let before: number | undefined
  for (const segment of segments) {
    for (const { timeS } of segment) {
      if (timeS !== undefined && before !== undefined && timeS < before) {
        throw new DomainError(
          'times-not-increasing',
          `points/${index}: it is ${before - timeS} s earlier than a point before it; points must be in order of travel`,
          { pointer: `/${index}` },
        )
      }
      before = timeS ?? before
      index++
    }
  }
}

/** Removes single points that no car can have reached. */
function reachable(segment: readonly TrackPoint[], first: number, leftOut: number[]): TrackPoint[] {
  const tooFast = (a: TrackPoint, b: TrackPoint) =>
    a.timeS !== undefined &&
    b.timeS !== undefined &&
    distanceM(a, b) > IMPOSSIBLE_M_PER_S * Math.max(1, b.timeS - a.timeS)
  return segment.filter((point, i) => {
    const before = segment[i - 1]
    const after = segment[i + 1]
    const jump =
      before !== undefined && after !== undefined && tooFast(before, point) && tooFast(point, after)
    if (jump && !tooFast(before, after)) {
      leftOut.push(first + i)
      return false
    }
    return true
  })
}

/**
 * Unbroken parts of a track: split where the recording paused, without points that no car can have reached.
 *
 *     gap: Δt > max(30 s, 10·median Δt), without times d > max(500 m, 10·median d), or a new segment
 *     impossible: more than 100 m/s there and back
 *
 * Δt is the time [s] and d the distance [m] from one point to the next.
 *
 * @param segments - Points in order of travel; a new segment where the recording broke off
 * @returns The parts, the gaps between them, and the indexes of the points left out
 * @throws {DomainError} `too-few-readings`, `times-not-increasing`
 * @see common practice, no source
 * @example partsOf([[{ latDeg: 0, lonDeg: 0 }, { latDeg: 0, lonDeg: 1 }]]).parts.length // 1 ± 0
 */
export function partsOf(segments: ReadonlyArray<readonly TrackPoint[]>): TrackParts {
  checkTimes(segments)
  const leftOut: number[] = []
  let first = 0
  const clean = segments.map((segment) => {
    const kept = reachable(segment, first, leftOut)
    first += segment.length
    return kept
  })
  const steps = clean.flatMap((segment) => segment.slice(1).map((point, i) => [segment[i]!, point] as const))
  if (steps.length === 0) {
    throw new DomainError('too-few-readings', 'points: expected at least 2 in one unbroken part', {
      min: 2,
    })
  }
  const pauses = steps.flatMap(([a, b]) =>
    a.timeS === undefined || b.timeS === undefined ? [] : [b.timeS - a.timeS],
  )
  const breakS =
    pauses.length === 0 ? Number.POSITIVE_INFINITY : Math.max(BREAK_LEAST_S, BREAK_FACTOR * median(pauses))
  const breakM = Math.max(BREAK_LEAST_M, BREAK_FACTOR * median(steps.map(([a, b]) => distanceM(a, b))))
  const broken = (a: TrackPoint, b: TrackPoint) =>
    a.timeS !== undefined && b.timeS !== undefined ? b.timeS - a.timeS > breakS : distanceM(a, b) > breakM
  const parts: TrackPoint[][] = []
  for (const segment of clean) {
    let part: TrackPoint[] = []
    for (const point of segment) {
      const before = part.at(-1)
      if (before !== undefined && broken(before, point)) {
        parts.push(part)
        part = []
      }
      part.push(point)
    }
    if (part.length > 0) parts.push(part)
  }
  const gaps = parts.slice(1).map((part, afterPart) => {
    const end = parts[afterPart]!.at(-1)!
    const start = part[0]!
    const gap = { afterPart, acrossM: geodesicM(end, start) }
    return end.timeS === undefined || start.timeS === undefined
      ? gap
      : Object.assign(gap, { lastsS: start.timeS - end.timeS })
  })
  return { parts, gaps, leftOut }
}
