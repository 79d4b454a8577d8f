import { odometerError } from '../domain/odometers/odometer-error.js'
import { OdometerErrorAnswer, OdometerErrorRequest } from '../schemas/odometers.js'
import { calculation } from './calculation.js'
import type { App, RouteOptions } from './options.js'

export function odometerRoutes(app: App, { sizeTable }: RouteOptions): void {
  app.post(
    '/v1/odometers/error',
    calculation(
      {
        id: 'computeOdometerError',
        summary: 'Error of an odometer',
        description:
          'By how much the odometer over-reads or under-reads with the tire fitted, and the true distance behind a recorded one.',
        tag: 'odometers',
        body: OdometerErrorRequest,
        answer: OdometerErrorAnswer,
        compute: odometerError,
      },
      sizeTable,
    ),
  )
}
