import { profileGiven } from '../border/vehicle-profile.js'
import { ref } from '../schemas/measures.js'
import { VehicleCheckAnswer, VehicleProfile } from '../schemas/vehicles.js'
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
          'A whole profile in; what each dial reads at each speed, the verdict of the rule, findings by severity and remedies, best first, out. Nothing is stored.',
        tags,
        body: ref(VehicleProfile),
        response: { 200: ref(VehicleCheckAnswer) },
      },
    },
    (request) => vehicleCheck(options, profileGiven(request.body)),
  )
}
