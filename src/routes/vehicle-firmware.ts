import { writing } from '../codec/answer.js'
import { decoder } from '../codec/decoder.js'
import { vehicleFirmware } from '../domain/vehicles/vehicle-firmware.js'
import { preferred } from '../http/accept.js'
import { etagOf } from '../http/etags.js'
import { firmwareHeader } from '../http/firmware-header.js'
import { profileOf } from '../http/saved-vehicles.js'
import { varyBy } from '../http/vary.js'
import { VARY } from '../schemas/answers.js'
import { FirmwareAnswer } from '../schemas/firmware.js'
import { ref } from '../schemas/named-shapes.js'
import { problems } from '../schemas/problems.js'
import { VehicleParams } from '../schemas/saved-vehicles.js'
import { ETAG, KEY_NEEDED } from '../schemas/stored.js'
import { VehicleFirmwareQuery } from '../schemas/vehicle-firmware.js'
import { VehicleProfile } from '../schemas/vehicles.js'
import type { App, RouteOptions } from './options.js'
import { authorOf } from './stored-responses.js'
import { noVehicle } from './stored-vehicles.js'

const vehicleOf = decoder(VehicleProfile)
const firmwareAnswer = writing({ answer: FirmwareAnswer, compute: vehicleFirmware })

export function vehicleFirmwareRoutes(app: App, { store, sizeTable }: RouteOptions): void {
  app.get(
    '/v1/vehicles/:id/firmware-constants',
    {
      schema: {
        operationId: 'getVehicleFirmwareConstants',
        summary: 'Firmware constants of a stored vehicle',
        description:
          'The same as POST /v1/pulses/firmware-constants, from the stored profile: its pulses (measured ones first), timer, timeout, filter and top speed; an odometer step is a tenth of a mile or kilometer. As JSON, or as a C header with Accept: text/x-c.',
        tags: ['vehicles'],
        security: KEY_NEEDED,
        params: VehicleParams,
        querystring: VehicleFirmwareQuery,
        response: {
          200: {
            description: 'The constants.',
            headers: { ...VARY, etag: ETAG },
            content: {
              'application/json': { schema: ref(FirmwareAnswer) },
              'text/x-c': { schema: { type: 'string', description: 'A C header.' } },
            },
          },
          ...problems(422),
        },
      },
    },
    async (request, reply) => {
      const mediaType = preferred(request.headers.accept, ['application/json', 'text/x-c'])
      const vehicle = await store.vehicles.read(authorOf(request).accountId, request.params.id)
      if (vehicle === undefined) throw noVehicle()
      const made = firmwareAnswer(vehicleOf(profileOf(vehicle)), request.query, sizeTable)
      varyBy(reply.header('etag', etagOf(vehicle.version)), 'accept')
      return mediaType === 'text/x-c'
        ? reply.type('text/x-c; charset=utf-8').send(firmwareHeader(made))
        : made
    },
  )
}
