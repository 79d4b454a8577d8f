import type { FastifyReply, FastifyRequest } from 'fastify'
import type { StoredResponse, Vehicle, VehicleInput, VehicleStore } from '../db/store.js'
import { checkPathNames } from '../domain/vehicles/given-vehicle.js'
import { etagOf, requireIfMatch, staleVersion } from '../http/etags.js'
import { RequestProblem } from '../http/request-problem.js'
import { vehicleText } from '../http/saved-vehicles.js'
import { ref } from '../schemas/named-shapes.js'
import { VehicleProfile, type VehicleProfileShape } from '../schemas/vehicles.js'
import { authorOf, sendText } from './stored-responses.js'

/** One schema object, so that its validator is compiled once. */
export const PROFILE = ref(VehicleProfile)

export const noVehicle = () => new RequestProblem('not-found', 'There is no such vehicle.')

export const referenceTaken = (id: string) =>
  new RequestProblem('reference-taken', `The vehicle ${id} has this reference.`, [
    { in: 'body', pointer: '#/reference', code: 'taken', detail: `is that of the vehicle ${id}` },
  ])

/**
 * A profile as the store keeps it: its text, and the fields it is found by.
 *
 * @throws {DomainError} `path-repeated`
 */
export function vehicleInput(profile: VehicleProfileShape): VehicleInput {
  checkPathNames(profile)
  const { reference, make, model } = profile
  return {
    ...(reference === undefined ? {} : { reference }),
    ...(make === undefined ? {} : { make }),
    ...(model === undefined ? {} : { model }),
    profile: JSON.stringify(profile),
  }
}

/** Sends a vehicle. */
export const sendVehicle = (reply: FastifyReply, vehicle: Vehicle) =>
  sendText(reply.header('etag', etagOf(vehicle.version)), vehicleText(vehicle))

export const createdAnswer = (vehicle: Vehicle): StoredResponse => ({
  status: 201,
  headers: { etag: etagOf(vehicle.version), location: `/v1/vehicles/${vehicle.id}` },
  body: vehicleText(vehicle),
})

/** Replaces a vehicle by the result of `edit`, if its version matches If-Match. */
export async function replaceVehicle(
  vehicles: VehicleStore,
  request: FastifyRequest,
  id: string,
  edit: (current: Vehicle) => VehicleProfileShape,
): Promise<Vehicle> {
  const versions = requireIfMatch(request.headers)
  const done = await vehicles.replace(authorOf(request), id, versions, (current) =>
    vehicleInput(edit(current)),
  )
  switch (done.outcome) {
    case 'absent':
      throw noVehicle()
    case 'stale':
      throw staleVersion(done.version, request.headers)
    case 'reference-taken':
      throw referenceTaken(done.id)
    case 'replaced':
      return done.vehicle
  }
}
