import type { Static } from '@sinclair/typebox'
import { odometerErrorPercent } from '../domain/drive-paths/path.js'
import { at } from '../domain/errors.js'
import { countUncertainty } from '../domain/measure/counting.js'
import { budget, type Figure, plusMinus, quotient, sum, uncertain } from '../domain/measure/figure.js'
import type { SourceId } from '../domain/measure/sources.js'
import type { TrackPoint } from '../domain/odometers/geodesic.js'
import { movedAcross, type TrackLength, trackLength } from '../domain/odometers/track.js'
import { standingS } from '../domain/odometers/track-stands.js'
import type { MeasureIn } from '../schemas/measures.js'
import type { TrackAnswer, TrackBody, TrackQueryShape } from '../schemas/odometer-track.js'
import { momentS } from './gpx.js'
import {
  distanceOut,
  figureOut,
  figureSi,
  lengthOut,
  perDistanceOut,
  ratioOut,
  timeOut,
  valueSi,
} from './measures.js'
import { RECORD_CAUTION } from './odometers.js'
import { provenance } from './provenance.js'
import { type FieldFault, RequestProblem } from './request-problem.js'

type Answer = Static<typeof TrackAnswer>
type Counted = NonNullable<TrackBody['counted']>

/** Radius that holds 95 % of positions, when the caller does not say [m]. */
const DEFAULT_ACCURACY_M = 8

/** That radius over the standard deviation on each axis, for a circular normal distribution: √(−2 ln 0.05). */
const RADIUS_95 = Math.sqrt(-2 * Math.log(0.05))

/** Most parts, breaks and points left out that are listed. */
const MAX_LISTED = 1000

/** Points of a JSON body, broken where the caller says so. */
function segmentsOf(points: TrackBody['points']): TrackPoint[][] {
  const segments: TrackPoint[][] = [[]]
  for (const [index, { lat, lon, time, afterBreak }] of points.entries()) {
    if (afterBreak === true && segments.at(-1)!.length > 0) segments.push([])
    const point: { latDeg: number; lonDeg: number; timeS?: number } = { latDeg: lat, lonDeg: lon }
    if (time !== undefined) point.timeS = momentS(time, `/points/${index}/time`)
    segments.at(-1)!.push(point)
  }
  return segments
}

/** A count of the query string in the form of a body. */
function countedOf(query: TrackQueryShape): Counted | undefined {
  const { pulses, turns, readTo, indicatedKm, indicatedMi, indicatedPlusMinus } = query
  const given = (['pulses', 'turns', 'indicatedKm', 'indicatedMi'] as const).filter(
    (field) => query[field] !== undefined,
  )
  const clash = (pointer: string, detail: string) => {
    const fault: FieldFault = { in: 'query', pointer: `#/${pointer}`, code: 'does-not-go-together', detail }
    return new RequestProblem('invalid-request', `query #/${pointer} ${detail}`, [fault])
  }
  if (given.length > 1) throw clash(given[1]!, 'give one of pulses, turns, indicatedKm, indicatedMi')
  if (readTo !== undefined && turns === undefined) throw clash('readTo', 'goes with turns only')
  if (indicatedPlusMinus !== undefined && indicatedKm === undefined && indicatedMi === undefined)
    throw clash('indicatedPlusMinus', 'goes with indicatedKm or indicatedMi only')
  if (pulses !== undefined) return { pulses }
  if (turns !== undefined) return readTo === undefined ? { turns } : { turns, readTo }
  const uncertainty = indicatedPlusMinus === undefined ? {} : { plusMinus: indicatedPlusMinus }
  if (indicatedKm !== undefined) return { indicated: { km: indicatedKm, ...uncertainty } }
  if (indicatedMi !== undefined) return { indicated: { mi: indicatedMi, ...uncertainty } }
  return undefined
}

/** The answer for a JSON body. A count in the query string as well would leave open which is meant. */
export function trackOfPoints(request: TrackBody, query: TrackQueryShape): Answer {
  const stray = Object.keys(query)[0]
  if (stray !== undefined) {
    const fault: FieldFault = {
      in: 'query',
      pointer: `#/${stray}`,
      code: 'does-not-go-together',
      detail: 'belongs to a GPX body; in JSON give counted and accuracy in the body',
    }
    throw new RequestProblem('invalid-request', `query #/${stray} ${fault.detail}`, [fault])
  }
  const accuracyM = request.accuracy === undefined ? undefined : valueSi('distance', request.accuracy)
  return trackOut(segmentsOf(request.points), request.counted, accuracyM)
}

/** The answer for a GPX body. */
export function trackOfGpx(segments: TrackPoint[][], query: TrackQueryShape): Answer {
  if (segments.length === 0) {
    throw new RequestProblem(
      'malformed-gpx',
      'The body holds no track points (trk, trkseg, trkpt): routes and waypoints are planned, not driven.',
    )
  }
  return trackOut(segments, countedOf(query), query.accuracyM)
}

function trackOut(
  segments: TrackPoint[][],
  counted: Counted | undefined,
  accuracyM: number | undefined,
): Answer {
  const uPositionM = (accuracyM ?? DEFAULT_ACCURACY_M) / RADIUS_95
  const track = at('/points', () => trackLength(segments, uPositionM))
  const sources: SourceId[] = ['definitions', 'gum', 'wgs84-geodesics', 'caller-reading']
  if (accuracyM === undefined) sources.push('gps-position')
  const { lengthM } = track
  const out: Answer = {
    length: figureOut(distanceOut, lengthM),
    recorded: {
      length: distanceOut(track.recordedM),
      points: track.points,
      errorPercent: (track.recordedM / lengthM.value - 1) * 100,
    },
    standstill: {
      stops: track.stands.length,
      duration: timeOut(standingS(track.stands)),
    },
    thinning: {
      minSpacing: lengthOut(track.thinningM),
      pointsUsed: track.pointsUsed,
      length: distanceOut(track.thinnedM),
      noiseAdded: lengthOut(track.noiseBiasM),
      bendsCut: lengthOut(track.cutM),
    },
    residualPlusMinusPercent: (100 * 2 * track.uBiasM) / lengthM.value,
    parts: track.parts
      .slice(0, MAX_LISTED)
      .map(({ points, lengthM: length }) => ({ points, length: distanceOut(length) })),
    gaps: track.gaps.slice(0, MAX_LISTED).map((gap) => {
      const row: Answer['gaps'][number] = {
        afterPart: gap.afterPart,
        distance: distanceOut(gap.acrossM),
        moved: movedAcross(gap, uPositionM),
      }
      if (gap.lastsS !== undefined) row.duration = timeOut(gap.lastsS)
      return row
    }),
    discarded: track.leftOut.slice(0, MAX_LISTED),
    budget: budget(lengthM),
    ...provenance({ sources, notes: track.notes }),
  }
  if (track.noiseM !== undefined) out.recorded.noise = lengthOut(track.noiseM)
  if (accuracyM === undefined) {
    out.notes.push({
      code: 'accuracy-assumed',
      level: 'info',
      text: `The accuracy of the positions was not given: ${DEFAULT_ACCURACY_M} m at 95 % is taken, for both ends of the track.`,
    })
  }
  if (counted !== undefined) countInto(out, counted, track, uPositionM)
  return out
}

function countInto(out: Answer, counted: Counted, track: TrackLength, uPositionM: number): void {
  if (track.gaps.some((gap) => movedAcross(gap, uPositionM))) {
    out.notes.push({
      code: 'moved-while-not-recorded',
      level: 'caution',
      text: 'The car moved while the recording was broken off, so what was counted does not belong to the length recorded: no figure per distance is given. Count and record over one unbroken drive.',
    })
    return
  }
  // Breaks during which the car stood: what the positions wandered may have been driven.
  const stood = track.gaps.reduce((total, { acrossM }) => total + acrossM, 0)
  const lengthM = sum(track.lengthM, uncertain(0, 'track: breaks while the car stood', stood / Math.sqrt(3)))
  if ('indicated' in counted) {
    const record = quotient(figureSi('distance', counted.indicated, 'distance recorded by the car'), lengthM)
    const error = odometerErrorPercent(record)
    out.odometerPerTrue = ratioOut(record)
    out.odometerErrorPercent = error.value
    out.odometerErrorPlusMinusPercent = plusMinus(error)
    out.budget = budget(record)
    noteExact(out, counted.indicated)
    out.notes.push(RECORD_CAUTION)
    return
  }
  const perM = quotient(countOf(counted), lengthM)
  if ('pulses' in counted) out.pulses = figureOut(perDistanceOut, perM)
  else out.turns = figureOut(perDistanceOut, perM)
  out.budget = budget(perM)
}

function countOf(counted: Exclude<Counted, { indicated: unknown }>): Figure {
  return 'pulses' in counted
    ? uncertain(counted.pulses, 'pulses: start and end between two', countUncertainty(1))
    : uncertain(counted.turns, 'turns: how finely they were read', countUncertainty(counted.readTo ?? 1))
}

function noteExact(out: Answer, indicated: MeasureIn<'distance'>): void {
  if (indicated.plusMinus !== undefined) return
  out.notes.push({
    code: 'record-taken-as-exact',
    level: 'info',
    text: 'The recorded distance carries no uncertainty here: give plusMinus, at least half of the last digit that was read.',
  })
}
