import { readGpx } from '../border/gpx.js'
import { trackOfGpx, trackOfPoints } from '../border/odometer-track.js'
import { ref } from '../schemas/measures.js'
import {
  GPX_EXAMPLE,
  MAX_TRACK_POINTS,
  TRACK_BODY_LIMIT,
  TrackAnswer,
  type TrackBody,
  TrackQuery,
  TrackRequest,
} from '../schemas/odometer-track.js'
import { calculationProblems } from '../schemas/problems.js'
import type { App } from './options.js'

const tags = ['odometers']

const GPX_MEDIA_TYPE = 'application/gpx+xml'

const isStream = (body: unknown): body is AsyncIterable<Uint8Array> =>
  typeof body === 'object' && body !== null && Symbol.asyncIterator in body

export async function odometerTrackRoutes(app: App): Promise<void> {
  // A scope of its own: no other address takes GPX. The body is read as it arrives, and its bytes are counted there.
  await app.register(async (scope: App) => {
    scope.addContentTypeParser(GPX_MEDIA_TYPE, (_request, payload, done) => done(null, payload))
    trackRoute(scope)
  })
}

function trackRoute(app: App): void {
  app.post(
    '/v1/odometers/track',
    {
      bodyLimit: TRACK_BODY_LIMIT,
      schema: {
        operationId: 'measureTrack',
        summary: 'Length of a road driven, and counts per distance',
        description:
          'From recorded positions, as JSON or as a GPX 1.1 document (up to 16 MiB; counts then stand in the query string): the length on the ellipsoid with its uncertainty, corrected for noise and bends, breaks not bridged; pulses or turns per distance, or the error of the odometer.',
        tags,
        querystring: TrackQuery,
        body: {
          content: {
            'application/json': { schema: ref(TrackRequest) },
            [GPX_MEDIA_TYPE]: {
              schema: { description: 'A GPX 1.1 document in UTF-8.', examples: [GPX_EXAMPLE] },
            },
          },
        },
        response: { 200: ref(TrackAnswer), ...calculationProblems() },
      },
    },
    async (request) => {
      const body: unknown = request.body
      if (!isStream(body)) return trackOfPoints(body as TrackBody, request.query)
      return trackOfGpx(await readGpx(body, TRACK_BODY_LIMIT, MAX_TRACK_POINTS), request.query)
    },
  )
}
