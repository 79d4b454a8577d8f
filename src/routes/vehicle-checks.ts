import { checkPathNames } from '../domain/vehicles/given-vehicle.js'
import { ref } from '../schemas/named-shapes.js'
import { VehicleCheckAnswer } from '../schemas/vehicle-checks.js'
import { VehicleProfile } from '../schemas/vehicles.js'
import type { App, RouteOptions } from './options.js'
import { vehicleCheck } from './vehicle-check.js'

const tags = ['vehicle-checks']

export function vehicleCheckRoutes(app: App, options: RouteOptions): void {
  app.post(
    '/v1/vehicle-checks',
    {
      schema: {
        operationId: 'checkVehicle',
        summary: 'Check a vehicle from wheel to dial',
        description:
          'Takes the profile of a vehicle: tires, drive paths and rule. Returns what each dial reads at each true speed, the verdict of the rule, findings, most severe first, and remedies, best first. Nothing is stored.',
        tags,
        body: ref(VehicleProfile),
        response: { 200: ref(VehicleCheckAnswer) },
      },
    },
    ({ body }) => {
      checkPathNames(body)
      return vehicleCheck(options, body)
    },
  )
}
