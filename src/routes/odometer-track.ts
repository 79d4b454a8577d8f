import { isHeavy, JSON_TYPE, type RawBody } from '../http/raw-body.js'
import { ref } from '../schemas/named-shapes.js'
import {
  GPX_EXAMPLE,
  TRACK_BODY_LIMIT,
  TrackAnswer,
  TrackQuery,
  TrackRequest,
} from '../schemas/odometer-track.js'
import { problems } from '../schemas/problems.js'
import { LONG } from '../schemas/rate-weights.js'
import { inThread } from './in-thread.js'
import type { App, RouteOptions } from './options.js'
import { gpxTrackAnswer, trackAnswer } from './track-answer.js'

const tags = ['odometers']

const GPX = 'application/gpx+xml'

const ROAD_LENGTH =
  'Returns the length of the road with its uncertainty, corrected for noise and bends, without the gaps of the recording; with a count also the pulses or turns per distance, or the error of the odometer.'

export async function odometerTrackRoutes(app: App, options: RouteOptions): Promise<void> {
  // Each in its own scope, which accepts its media type only.
  await app.register(async (scope: App) => {
    options.takeRaw(scope, JSON_TYPE)
    trackRoute(scope, options)
  })
  await app.register(async (scope: App) => {
    options.takeRaw(scope, GPX)
    gpxTrackRoute(scope, options)
  })
}

function trackRoute(app: App, options: RouteOptions): void {
  app.post(
    '/v1/odometers/track',
    {
      bodyLimit: TRACK_BODY_LIMIT,
      schema: {
        operationId: 'measureTrack',
        ...LONG,
        summary: 'Length of a road driven, and pulses or turns per distance',
        description: `From recorded positions. ${ROAD_LENGTH}`,
        tags,
        body: { content: { [JSON_TYPE]: { schema: ref(TrackRequest) } } },
        response: { 200: ref(TrackAnswer), ...problems(503) },
      },
    },
    (request, reply) => {
      const track = request.body as RawBody
      return isHeavy(track) ? inThread(reply, options, 'track', track) : trackAnswer(track, options.readJson)
    },
  )
}

function gpxTrackRoute(app: App, options: RouteOptions): void {
  app.post(
    '/v1/odometers/track/gpx',
    {
      bodyLimit: TRACK_BODY_LIMIT,
      schema: {
        operationId: 'measureGpxTrack',
        ...LONG,
        summary: 'Length of a road driven, from a GPX document',
        description: `From a GPX 1.1 document, up to 16 MiB; what was counted is in the query. ${ROAD_LENGTH}`,
        tags,
        querystring: TrackQuery,
        body: {
          content: {
            [GPX]: { schema: { description: 'A GPX 1.1 document in UTF-8.', examples: [GPX_EXAMPLE] } },
          },
        },
        response: { 200: ref(TrackAnswer), ...problems(503) },
      },
    },
    (request, reply) => {
      const track = { ...(request.body as RawBody), query: request.query }
      return isHeavy(track) ? inThread(reply, options, 'gpxTrack', track) : gpxTrackAnswer(track)
    },
  )
}
