import type { Static } from '@sinclair/typebox'
import {
  distanceOut,
  figureOut,
  figureSi,
  lengthOut,
  perDistanceOut,
  ratioOut,
  timeOut,
  valueSi,
} from '../codec/measures.js'
import { odometerErrorPercent } from '../domain/drive-paths/path.js'
import { withPointer } from '../domain/errors.js'
import { countUncertainty } from '../domain/measure/counting.js'
import { budget, type Figure, plusMinus, quotient, sum, uncertain } from '../domain/measure/figure.js'
import type { SourceId } from '../domain/measure/sources.js'
import type { TrackPoint } from '../domain/odometers/geodesic.js'
import { movedAcross, type TrackLength, trackLength } from '../domain/odometers/track.js'
import { standingS } from '../domain/odometers/track-stands.js'
import { type MeasureIn, ref } from '../schemas/measures.js'
import {
  MAX_TRACK_POINTS,
  type TrackAnswer,
  type TrackBody,
  type TrackQueryShape,
  TrackRequest,
} from '../schemas/odometer-track.js'
import { momentS, readGpx } from './gpx.js'
import { RECORD_CAUTION } from './odometers.js'
import { provenance } from './provenance.js'
import { JSON_TYPE, type RawBody, type ReadJson } from './raw-body.js'
import { type FieldFault, RequestProblem } from './request-problem.js'

export type TrackAnswerShape = Static<typeof TrackAnswer>

/** A track as it came, with what stands in the address. */
export interface TrackGiven extends RawBody {
  readonly query: TrackQueryShape
}

type Counted = NonNullable<TrackBody['counted']>

/** Default radius that contains 95 % of the positions [m]. */
const DEFAULT_ACCURACY_M = 8

/** Ratio of that radius to the standard deviation per axis, for a circular normal distribution: √(−2 ln 0.05). */
const RADIUS_95 = Math.sqrt(-2 * Math.log(0.05))

/** Maximum number of parts, gaps and omitted points listed. */
const MAX_LISTED = 1000

/** Points of a JSON body, split into segments as given. */
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

/** The count in the query string, in the form of a JSON body. */
function countedOf(query: TrackQueryShape): Counted | undefined {
  const { pulses, turns, resolution, indicatedKm, indicatedMi, indicatedPlusMinus } = query
  const given = (['pulses', 'turns', 'indicatedKm', 'indicatedMi'] as const).filter(
    (field) => query[field] !== undefined,
  )
  const clash = (pointer: string, detail: string) => {
    const fault: FieldFault = { in: 'query', pointer: `#/${pointer}`, code: 'not-allowed-together', detail }
    return new RequestProblem('invalid-request', `query #/${pointer} ${detail}`, [fault])
  }
  if (given.length > 1) throw clash(given[1]!, 'give one of pulses, turns, indicatedKm, indicatedMi')
  if (resolution !== undefined && turns === undefined) throw clash('resolution', 'is allowed with turns only')
  if (indicatedPlusMinus !== undefined && indicatedKm === undefined && indicatedMi === undefined)
    throw clash('indicatedPlusMinus', 'is allowed with indicatedKm or indicatedMi only')
  if (pulses !== undefined) return { pulses }
  if (turns !== undefined) return resolution === undefined ? { turns } : { turns, resolution }
  const uncertainty = indicatedPlusMinus === undefined ? {} : { plusMinus: indicatedPlusMinus }
  if (indicatedKm !== undefined) return { indicated: { km: indicatedKm, ...uncertainty } }
  if (indicatedMi !== undefined) return { indicated: { mi: indicatedMi, ...uncertainty } }
  return undefined
}

const POINTS = ref(TrackRequest)

/** The answer of `POST /v1/odometers/track`. */
export const trackOut = ({ mediaType, bytes, query }: TrackGiven, readJson: ReadJson): TrackAnswerShape =>
  mediaType === JSON_TYPE
    ? trackOfPoints(readJson(POINTS, bytes), query)
    : trackOfGpx(readGpx(bytes, MAX_TRACK_POINTS), query)

/** The answer for a JSON body. A count in the query string as well would leave open which is meant. */
function trackOfPoints(request: TrackBody, query: TrackQueryShape): TrackAnswerShape {
  const stray = Object.keys(query)[0]
  if (stray !== undefined) {
    const fault: FieldFault = {
      in: 'query',
      pointer: `#/${stray}`,
      code: 'not-allowed-together',
      detail: 'belongs to a GPX body; in JSON give counted and accuracy in the body',
    }
    throw new RequestProblem('invalid-request', `query #/${stray} ${fault.detail}`, [fault])
  }
  const accuracyM = request.accuracy === undefined ? undefined : valueSi('distance', request.accuracy)
  return lengthAndCounts(segmentsOf(request.points), request.counted, accuracyM)
}

/** The answer for a GPX body. */
function trackOfGpx(segments: TrackPoint[][], query: TrackQueryShape): TrackAnswerShape {
  if (segments.length === 0) {
    throw new RequestProblem(
      'malformed-gpx',
      'The body has no track points (trk, trkseg, trkpt): routes and waypoints are planned, not driven.',
    )
  }
  return lengthAndCounts(segments, countedOf(query), query.accuracyM)
}

function lengthAndCounts(
  segments: TrackPoint[][],
  counted: Counted | undefined,
  accuracyM: number | undefined,
): TrackAnswerShape {
  const uPositionM = (accuracyM ?? DEFAULT_ACCURACY_M) / RADIUS_95
  const track = withPointer('/points', () => trackLength(segments, uPositionM))
  const sources: SourceId[] = ['definitions', 'gum', 'wgs84-geodesics', 'caller-reading']
  if (accuracyM === undefined) sources.push('gps-position')
  const { lengthM } = track
  const out: TrackAnswerShape = {
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
      const row: TrackAnswerShape['gaps'][number] = {
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
      text: `No accuracy of the positions was given: ${DEFAULT_ACCURACY_M} m at 95 % is assumed.`,
    })
  }
  if (counted !== undefined) countInto(out, counted, track, uPositionM)
  return out
}

function countInto(out: TrackAnswerShape, counted: Counted, track: TrackLength, uPositionM: number): void {
  if (track.gaps.some((gap) => movedAcross(gap, uPositionM))) {
    out.notes.push({
      code: 'moved-while-not-recorded',
      level: 'caution',
      text: 'The car moved during a gap in the recording, so the count does not match the recorded length: the answer has no count per distance. Count and record over one unbroken drive.',
    })
    return
  }
  // Gaps during which the car stood: the scatter of the positions may have been driven.
  const stood = track.gaps.reduce((total, { acrossM }) => total + acrossM, 0)
  const lengthM = sum(track.lengthM, uncertain(0, 'track: recording gaps during stops', stood / Math.sqrt(3)))
  if ('indicated' in counted) {
    const record = quotient(figureSi('distance', counted.indicated, 'odometer distance'), lengthM)
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
    ? uncertain(counted.pulses, 'pulses: resolution of the count', countUncertainty(1))
    : uncertain(counted.turns, 'turns: resolution of the reading', countUncertainty(counted.resolution ?? 1))
}

function noteExact(out: TrackAnswerShape, indicated: MeasureIn<'distance'>): void {
  if (indicated.plusMinus !== undefined) return
  out.notes.push({
    code: 'odometer-taken-as-exact',
    level: 'info',
    text: 'The odometer distance carries no uncertainty: give plusMinus, at least half of the last digit read.',
  })
}
