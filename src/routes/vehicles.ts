import { etagOf, ifMatch, ifNoneMatch, requireIfMatch, staleVersion } from '../http/etags.js'
import { MERGE_PATCH } from '../http/merge-patch.js'
import { RequestProblem } from '../http/request-problem.js'
import { pageText, profileOf, vehicleText } from '../http/saved-vehicles.js'
import { ref } from '../schemas/named-shapes.js'
import { problems } from '../schemas/problems.js'
import {
  ReferenceParams,
  SavedVehicle,
  SavedVehicleList,
  VehicleListQuery,
  VehicleParams,
  VehiclePatch,
} from '../schemas/saved-vehicles.js'
import {
  ChangeHeaders,
  CreateHeaders,
  gone,
  KEY_NEEDED,
  made,
  PutHeaders,
  ReadHeaders,
  shown,
  UNCHANGED,
} from '../schemas/stored.js'
import { VehicleCheckAnswer } from '../schemas/vehicle-checks.js'
import type { VehicleProfileShape } from '../schemas/vehicles.js'
import { patched } from './checked.js'
import type { App, RouteOptions } from './options.js'
import { authorOf, saveFor, sendResponse, sendText, sendUnlessUnchanged } from './stored-responses.js'
import {
  createdAnswer,
  noVehicle,
  PROFILE,
  referenceTaken,
  replaceVehicle,
  sendVehicle,
  vehicleInput,
} from './stored-vehicles.js'
import { vehicleCheck } from './vehicle-check.js'

const tags = ['vehicles']
const security = KEY_NEEDED

/** Creates and lists vehicles. */
function collectionRoutes(app: App, { store: { vehicles }, cursors }: RouteOptions): void {
  app.post(
    '/v1/vehicles',
    {
      schema: {
        operationId: 'createVehicle',
        summary: 'Save a vehicle',
        description: 'Stores a profile in the account of the key. Only this account can read it.',
        tags,
        security,
        headers: CreateHeaders,
        body: PROFILE,
        response: {
          201: made(SavedVehicle, 'The vehicle.'),
        },
      },
    },
    async (request, reply) => {
      const done = await vehicles.create(
        authorOf(request),
        vehicleInput(request.body),
        saveFor(request, createdAnswer),
      )
      if (done.outcome === 'reference-taken') throw referenceTaken(done.id)
      return sendResponse(reply, createdAnswer(done.vehicle))
    },
  )

  app.get(
    '/v1/vehicles',
    {
      schema: {
        operationId: 'listVehicles',
        summary: 'Vehicles of the account',
        description:
          'In the order of creation, in pages. Filter by make, model or reference, alone or combined; reference finds the vehicle of a job ticket.',
        tags,
        security,
        querystring: VehicleListQuery,
        response: { 200: ref(SavedVehicleList) },
      },
    },
    async (request, reply) => {
      const { accountId } = authorOf(request)
      const { limit, cursor, ...filter } = request.query
      const list = [accountId, 'vehicles', filter.make, filter.model, filter.reference]
      const page = cursors.page(list, { limit, cursor })
      const { items, next } = await vehicles.list(accountId, filter, page.request)
      return sendText(reply, pageText('vehicles', items.map(vehicleText), page.next(next)))
    },
  )
}

/** Shows a vehicle, and replaces its whole profile. */
function wholeRoutes(app: App, { store: { vehicles } }: RouteOptions): void {
  app.get(
    '/v1/vehicles/:id',
    {
      schema: {
        operationId: 'getVehicle',
        summary: 'A vehicle',
        description: 'The profile as given, with its version.',
        tags,
        security,
        params: VehicleParams,
        headers: ReadHeaders,
        response: {
          200: shown(SavedVehicle, 'The vehicle.'),
          304: UNCHANGED,
        },
      },
    },
    async (request, reply) => {
      const vehicle = await vehicles.read(authorOf(request).accountId, request.params.id)
      if (vehicle === undefined) throw noVehicle()
      return sendUnlessUnchanged(request, reply, vehicle.version, () => sendVehicle(reply, vehicle))
    },
  )

  app.put(
    '/v1/vehicles/:id',
    {
      schema: {
        operationId: 'replaceVehicle',
        summary: 'Replace a vehicle',
        description:
          'Replaces the whole profile; the previous one is stored as a revision. Send the profile without id, version, createdAt and changedAt, which the service sets.',
        tags,
        security,
        params: VehicleParams,
        headers: ChangeHeaders,
        body: PROFILE,
        response: {
          200: shown(SavedVehicle, 'The vehicle.'),
          ...problems(409),
        },
      },
    },
    async (request, reply) => {
      const vehicle = await replaceVehicle(vehicles, request, request.params.id, () => request.body)
      return sendVehicle(reply, vehicle)
    },
  )
}

/** Changes a part of a profile, or deletes the vehicle. */
function partRoutes(app: App, { store: { vehicles } }: RouteOptions): void {
  app.patch(
    '/v1/vehicles/:id',
    {
      config: { patches: PROFILE },
      schema: {
        operationId: 'changeVehicle',
        summary: 'Change a part of a vehicle',
        description:
          'Applies a merge patch (RFC 7396) to the profile: send the fields that change, and null to remove one. A list is replaced as a whole. The result must be a complete profile.',
        tags,
        security,
        consumes: [MERGE_PATCH],
        params: VehicleParams,
        headers: ChangeHeaders,
        body: ref(VehiclePatch),
        response: {
          200: shown(SavedVehicle, 'The vehicle.'),
          ...problems(409),
        },
      },
    },
    async (request, reply) => {
      const vehicle = await replaceVehicle(
        vehicles,
        request,
        request.params.id,
        (current) => patched(request, PROFILE, profileOf(current)) as VehicleProfileShape,
      )
      return sendVehicle(reply, vehicle)
    },
  )

  app.delete(
    '/v1/vehicles/:id',
    {
      schema: {
        operationId: 'deleteVehicle',
        summary: 'Delete a vehicle',
        description: 'Deletes the vehicle and frees its reference; its revisions can still be read.',
        tags,
        security,
        params: VehicleParams,
        headers: ChangeHeaders,
        response: {
          204: gone('It is gone.'),
        },
      },
    },
    async (request, reply) => {
      const done = await vehicles.remove(
        authorOf(request),
        request.params.id,
        requireIfMatch(request.headers),
      )
      if (done.outcome === 'absent') throw noVehicle()
      if (done.outcome === 'stale') throw staleVersion(done.version, request.headers)
      return reply.code(204).send()
    },
  )
}

/** Saves a vehicle by its reference. */
function referenceRoutes(app: App, { store: { vehicles } }: RouteOptions): void {
  app.put(
    '/v1/vehicles/by-reference/:reference',
    {
      schema: {
        operationId: 'putVehicleByReference',
        summary: 'Create or replace a vehicle by its reference',
        description:
          'For job tickets: creates the vehicle with that reference (201), or replaces it (200). Sending the same profile again changes nothing. To replace another profile, send If-Match with its ETag, or * for any version; If-None-Match: * only creates. To read it by its reference: GET /v1/vehicles?reference=.',
        tags,
        security,
        params: ReferenceParams,
        headers: PutHeaders,
        body: PROFILE,
        response: {
          200: shown(SavedVehicle, 'The vehicle.'),
          201: made(SavedVehicle, 'The vehicle.'),
        },
      },
    },
    async (request, reply) => {
      const { reference } = request.params
      if (request.body.reference !== undefined && request.body.reference !== reference) {
        throw new RequestProblem('reference-mismatch', 'reference in the body is not the one in the URL.', [
          {
            in: 'body',
            pointer: '#/reference',
            code: 'mismatch',
            detail: `leave it out or give ${reference}`,
          },
        ])
      }
      const versions = ifMatch(request.headers)
      const noneMatch = ifNoneMatch(request.headers)
      const done = await vehicles.putByReference(
        authorOf(request),
        reference,
        {
          ...(versions === undefined ? {} : { versions }),
          ...(noneMatch === undefined ? {} : { unless: noneMatch }),
        },
        vehicleInput({ ...request.body, reference }),
      )
      switch (done.outcome) {
        case 'created':
          return sendResponse(reply, createdAnswer(done.vehicle))
        case 'replaced':
        case 'unchanged':
          return sendVehicle(reply, done.vehicle)
        case 'stale':
          throw staleVersion(done.version, request.headers)
        case 'absent':
          throw new RequestProblem(
            'stale-version',
            'If-Match names a version, and no vehicle has this reference: leave If-Match out to create it.',
          )
        case 'condition-required':
          throw new RequestProblem(
            'condition-required',
            `Another profile is stored under this reference: send If-Match with its ETag "${done.version}", or * to replace any version.`,
            [],
            { etag: etagOf(done.version) },
          )
      }
    },
  )
}

/** Checks a stored vehicle. */
function checkRoutes(app: App, options: RouteOptions): void {
  const {
    store: { vehicles },
  } = options

  app.get(
    '/v1/vehicles/:id/check',
    {
      schema: {
        operationId: 'checkSavedVehicle',
        summary: 'Check a stored vehicle',
        description:
          'Does what POST /v1/vehicle-checks does, for the stored profile; pointers are into the profile.',
        tags,
        security,
        params: VehicleParams,
        response: {
          200: shown(VehicleCheckAnswer, 'What the dial reads, and whether that is allowed.'),
          ...problems(422),
        },
      },
    },
    async (request, reply) => {
      const vehicle = await vehicles.read(authorOf(request).accountId, request.params.id)
      if (vehicle === undefined) throw noVehicle()
      const check = await vehicleCheck(options, profileOf(vehicle))
      reply.header('etag', etagOf(vehicle.version))
      return check
    },
  )
}

export function vehicleRoutes(app: App, options: RouteOptions): void {
  collectionRoutes(app, options)
  wholeRoutes(app, options)
  partRoutes(app, options)
  referenceRoutes(app, options)
  checkRoutes(app, options)
}
