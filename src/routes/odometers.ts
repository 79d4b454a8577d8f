import { odometerError } from '../domain/odometers/odometer-error.js'
import { totalDistance } from '../domain/odometers/total-distance.js'
import { OdometerErrorAnswer, OdometerErrorRequest } from '../schemas/odometers.js'
import { TotalDistanceAnswer, TotalDistanceRequest } from '../schemas/total-distance.js'
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

  app.post('/v1/odometers/total-distance', {
    config: { neverAnswers: [422] },
    ...calculation({
      id: 'computeTotalDistance',
      summary: 'True distance over several periods',
      description:
        'What a car has covered if its odometer had different errors over time, as with other tires, or stood still for a while, as with a broken cable.',
      tag: 'odometers',
      body: TotalDistanceRequest,
      answer: TotalDistanceAnswer,
      compute: totalDistance,
    }),
  })
}
