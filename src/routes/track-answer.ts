import { writing } from '../codec/answer.js'
import { decoder } from '../codec/decoder.js'
import { type Counted, measuredTrack, type TrackToMeasure } from '../domain/odometers/measured-track.js'
import { type GpxPoint, momentS, readGpx } from '../http/gpx.js'
import type { RawBody, ReadJson } from '../http/raw-body.js'
import { type FieldFault, RequestProblem } from '../http/request-problem.js'
import { ref } from '../schemas/named-shapes.js'
import {
  type CountedShape,
  MAX_TRACK_POINTS,
  TrackAnswer,
  type TrackAnswerShape,
  type TrackBody,
  type TrackQueryShape,
  TrackRequest,
} from '../schemas/odometer-track.js'

/** A GPX document as it came, with what stands in the address. */
export interface GpxTrack extends RawBody {
  readonly query: TrackQueryShape
}

const POINTS = ref(TrackRequest)
const decode = decoder(TrackRequest)
const answer = writing({ answer: TrackAnswer, compute: measuredTrack })

function notTogether(field: string, detail: string): RequestProblem {
  const pointer = `#/${field}`
  const fault: FieldFault = { in: 'query', pointer, code: 'not-allowed-together', detail }
  return new RequestProblem('invalid-request', `query ${pointer} ${detail}`, [fault])
}

/** Points of a JSON body, split into segments as given. */
function segmentsOf(points: ReadonlyArray<Readonly<TrackBody['points'][number]>>): GpxPoint[][] {
  const segments: GpxPoint[][] = [[]]
  for (const [index, { lat, lon, time, afterBreak }] of points.entries()) {
    if (afterBreak === true && segments.at(-1)!.length > 0) segments.push([])
    const point: GpxPoint = { latDeg: lat, lonDeg: lon }
    if (time !== undefined) point.timeS = momentS(time, `/points/${index}/time`)
    segments.at(-1)!.push(point)
  }
  return segments
}

/** The count in the query string, in the form of a JSON body. */
function countedOf(query: TrackQueryShape): CountedShape | undefined {
  const { pulses, turns, resolution, indicatedKm, indicatedMi, indicatedPlusMinus } = query
  const given = (['pulses', 'turns', 'indicatedKm', 'indicatedMi'] as const).filter(
    (field) => query[field] !== undefined,
  )
  if (given.length > 1) throw notTogether(given[1]!, 'give one of pulses, turns, indicatedKm, indicatedMi')
  if (resolution !== undefined && turns === undefined)
    throw notTogether('resolution', 'is allowed with turns only')
  if (indicatedPlusMinus !== undefined && indicatedKm === undefined && indicatedMi === undefined)
    throw notTogether('indicatedPlusMinus', 'is allowed with indicatedKm or indicatedMi only')
  if (pulses !== undefined) return { pulses }
  if (turns !== undefined) return resolution === undefined ? { turns } : { turns, resolution }
  const uncertainty = indicatedPlusMinus === undefined ? {} : { plusMinus: indicatedPlusMinus }
  if (indicatedKm !== undefined) return { indicated: { km: indicatedKm, ...uncertainty } }
  if (indicatedMi !== undefined) return { indicated: { mi: indicatedMi, ...uncertainty } }
  return undefined
}

const trackOf = (
  segments: GpxPoint[][],
  counted: Counted | undefined,
  accuracyM: number | undefined,
): TrackToMeasure => ({
  segments,
  ...(counted === undefined ? {} : { counted }),
  ...(accuracyM === undefined ? {} : { accuracyM }),
})

/** A track in JSON. */
function trackOfJson(request: TrackBody): TrackToMeasure {
  const { points, counted, accuracyM } = decode(request)
  return trackOf(segmentsOf(points), counted, accuracyM?.value)
}

const decodeCount = decoder(TrackRequest.properties.counted)

function trackOfGpx(segments: GpxPoint[][], query: TrackQueryShape): TrackToMeasure {
  if (segments.length === 0) {
    throw new RequestProblem(
      'malformed-gpx',
      'The body has no track points (trk, trkseg, trkpt): routes and waypoints are planned, not driven.',
    )
  }
  const counted = countedOf(query)
  return trackOf(segments, counted && decodeCount(counted), query.accuracyM)
}

/** From a track in JSON to the answer on it; threads compute long ones by it. */
export const trackAnswer = ({ bytes }: RawBody, readJson: ReadJson): TrackAnswerShape =>
  answer(trackOfJson(readJson(POINTS, bytes)))

/** The same of a GPX document. */
export const gpxTrackAnswer = ({ bytes, query }: GpxTrack): TrackAnswerShape =>
  answer(trackOfGpx(readGpx(bytes, MAX_TRACK_POINTS), query))
