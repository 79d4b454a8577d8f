import type { Static } from '@sinclair/typebox'

import type { Calibration, CalibrationInput, StoredResponse, VehicleStore } from '../db/store.js'
import { etagOf, requireIfMatch, staleVersion } from '../http/etags.js'
import { MERGE_PATCH } from '../http/merge-patch.js'
import { RequestProblem } from '../http/request-problem.js'
import { instant, pageText, profileOf } from '../http/saved-vehicles.js'
import { ref } from '../schemas/named-shapes.js'
import { SavedVehicle, VehicleParams } from '../schemas/saved-vehicles.js'
import { ChangeHeaders, CreateHeaders, KEY_NEEDED, made, shown } from '../schemas/stored.js'
import {
  CalibrationApplication,
  CalibrationJudgement,
  CalibrationListQuery,
  CalibrationParams,
  SavedCalibration,
  SavedCalibrationList,
  VehicleCalibrationRequest,
} from '../schemas/vehicle-calibrations.js'
import { calibrated, pathIndex } from './applied-calibration.js'
import { checker } from './checked.js'
import { gaugeCalibrationAnswer } from './gauge-calibration.js'
import type { App, RouteOptions } from './options.js'
import { authorOf, saveFor, sendResponse, sendText } from './stored-responses.js'
import { noVehicle, PROFILE, replaceVehicle, sendVehicle } from './stored-vehicles.js'

const tags = ['vehicles']
const security = KEY_NEEDED

const noCalibration = () => new RequestProblem('not-found', 'There is no such calibration.')

/** A calibration as it is stored: computed now, so that a later model does not change the result. */
function calibrationInput({
  accepted = false,
  ...request
}: Static<typeof VehicleCalibrationRequest>): CalibrationInput {
  const { path, performedOn: _day, notes: _notes, ...calculation } = request
  const result = gaugeCalibrationAnswer(calculation)
  return { path, accepted, request: JSON.stringify(request), result: JSON.stringify(result) }
}

/** JSON text of a calibration: request and result go out as they are kept, unread. */
function calibrationText(calibration: Calibration): string {
  const { id, version, createdAtMs, changedAtMs, accepted, request, result } = calibration
  return `{"id":"${id}","version":${version},"createdAt":"${instant(createdAtMs)}","changedAt":"${instant(changedAtMs)}","accepted":${accepted},"request":${request},"result":${result}}`
}

const recordedAnswer = (calibration: Calibration): StoredResponse => ({
  status: 201,
  headers: {
    etag: etagOf(calibration.version),
    location: `/v1/vehicles/${calibration.vehicleId}/calibrations/${calibration.id}`,
  },
  body: calibrationText(calibration),
})

/** The profile of a vehicle as it was when a calibration was recorded. */
async function profileWhen(
  vehicles: VehicleStore,
  accountId: string,
  { vehicleId, createdAtMs }: Calibration,
) {
  for (let after: string | undefined; ; ) {
    const page = await vehicles.revisions(
      accountId,
      vehicleId,
      after === undefined ? { limit: 50 } : { limit: 50, after },
    )
    const change = page?.items.find(({ atMs }) => atMs <= createdAtMs)
    const revision =
      change === undefined ? undefined : await vehicles.revision(accountId, vehicleId, change.version)
    if (revision?.vehicle !== undefined) return profileOf(revision.vehicle)
    after = page?.next
    if (after === undefined) throw noVehicle()
  }
}

/** Records and lists calibrations. */
function collectionRoutes(app: App, { store: { vehicles, calibrations }, cursors }: RouteOptions): void {
  app.post(
    '/v1/vehicles/:id/calibrations',
    {
      schema: {
        operationId: 'recordCalibration',
        summary: 'Save a calibration of a vehicle',
        description:
          'Stores readings of a dial and what POST /v1/gauges/calibration computes from them. It does not change the profile: accept the calibration, then apply it.',
        tags,
        security,
        params: VehicleParams,
        headers: CreateHeaders,
        body: ref(VehicleCalibrationRequest),
        response: {
          201: made(SavedCalibration, 'The calibration.'),
        },
      },
    },
    async (request, reply) => {
      const author = authorOf(request)
      const { id } = request.params
      const vehicle = await vehicles.read(author.accountId, id)
      if (vehicle === undefined) throw noVehicle()
      pathIndex(profileOf(vehicle), request.body.path)
      const input = calibrationInput(request.body)
      const done = await calibrations.record(author, id, input, saveFor(request, recordedAnswer))
      if (done.outcome === 'absent') throw noVehicle()
      return sendResponse(reply, recordedAnswer(done.calibration))
    },
  )

  app.get(
    '/v1/vehicles/:id/calibrations',
    {
      schema: {
        operationId: 'listCalibrations',
        summary: 'Calibrations of a vehicle',
        description: 'Newest first, in pages.',
        tags,
        security,
        params: VehicleParams,
        querystring: CalibrationListQuery,
        response: { 200: ref(SavedCalibrationList) },
      },
    },
    async (request, reply) => {
      const { accountId } = authorOf(request)
      const page = cursors.page([accountId, 'calibrations', request.params.id], request.query)
      const found = await calibrations.list(accountId, request.params.id, page.request)
      if (found === undefined) throw noVehicle()
      return sendText(
        reply,
        pageText('calibrations', found.items.map(calibrationText), page.next(found.next)),
      )
    },
  )
}

/** Shows and judges a calibration. */
function recordRoutes(app: App, { store: { calibrations } }: RouteOptions): void {
  app.get(
    '/v1/vehicles/:id/calibrations/:calibrationId',
    {
      schema: {
        operationId: 'getCalibration',
        summary: 'A calibration of a vehicle',
        description: 'The readings as given, and what was computed from them then.',
        tags,
        security,
        params: CalibrationParams,
        response: { 200: shown(SavedCalibration, 'The calibration.') },
      },
    },
    async (request, reply) => {
      const { id, calibrationId } = request.params
      const calibration = await calibrations.read(authorOf(request).accountId, id, calibrationId)
      if (calibration === undefined) throw noCalibration()
      return sendText(reply.header('etag', etagOf(calibration.version)), calibrationText(calibration))
    },
  )

  app.patch(
    '/v1/vehicles/:id/calibrations/:calibrationId',
    {
      config: { neverAnswers: [422] },
      schema: {
        operationId: 'judgeCalibration',
        summary: 'Accept a calibration, or withdraw the acceptance',
        description:
          'Sets accepted: whether the calibration may be applied to the profile. If-Match takes the ETag of the calibration, not of the vehicle. Readings cannot be changed: record a new calibration.',
        tags,
        security,
        consumes: [MERGE_PATCH],
        params: CalibrationParams,
        headers: ChangeHeaders,
        body: ref(CalibrationJudgement),
        response: {
          200: shown(SavedCalibration, 'The calibration.'),
        },
      },
    },
    async (request, reply) => {
      const { id, calibrationId } = request.params
      const versions = requireIfMatch(request.headers)
      const { accepted } = request.body
      const done = await calibrations.judge(authorOf(request), id, calibrationId, versions, accepted)
      if (done.outcome === 'absent') throw noCalibration()
      if (done.outcome === 'stale') throw staleVersion(done.version, request.headers)
      return sendText(
        reply.header('etag', etagOf(done.calibration.version)),
        calibrationText(done.calibration),
      )
    },
  )
}

/** Applies a calibration to the vehicle. */
function applicationRoutes(app: App, { store: { vehicles, calibrations }, sizeTable }: RouteOptions): void {
  app.post(
    '/v1/vehicles/:id/calibrations/application',
    {
      schema: {
        operationId: 'applyCalibration',
        summary: 'Apply the newest accepted calibration of a path',
        description:
          'Makes a new version of the vehicle. A bench calibration sets the error of the head (scalePercent, offset); a road calibration sets the measured reading of the path (in measured: indicatedPerTrue, offset, and computed, so that a later change of tire, stages or head is noticed). A calibration from before such a change is refused. If-Match takes the ETag of the vehicle.',
        tags,
        security,
        params: VehicleParams,
        headers: ChangeHeaders,
        body: ref(CalibrationApplication),
        response: {
          200: shown(SavedVehicle, 'The vehicle.'),
        },
      },
    },
    async (request, reply) => {
      const { id } = request.params
      const { path } = request.body
      const { accountId } = authorOf(request)
      requireIfMatch(request.headers)
      if ((await vehicles.read(accountId, id)) === undefined) throw noVehicle()
      const calibration = await calibrations.newestAccepted(accountId, id, path)
      if (calibration === undefined) {
        throw new RequestProblem(
          'no-accepted-calibration',
          `There is no accepted calibration of ${path}; record one, or accept one by PATCH.`,
          [
            {
              in: 'body',
              pointer: '#/path',
              code: 'no-accepted-calibration',
              detail: 'has none that is accepted',
            },
          ],
        )
      }
      const problemOf = checker(request, PROFILE)
      const then = await profileWhen(vehicles, accountId, calibration)
      const vehicle = await replaceVehicle(vehicles, request, id, (current) => {
        const profile = calibrated(profileOf(current), then, calibration, sizeTable)
        const problem = problemOf(profile)
        if (problem !== undefined) throw problem
        return profile
      })
      return sendVehicle(reply, vehicle)
    },
  )
}

export function vehicleCalibrationRoutes(app: App, options: RouteOptions): void {
  collectionRoutes(app, options)
  recordRoutes(app, options)
  applicationRoutes(app, options)
}
