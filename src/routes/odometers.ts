import { odometerErrorOut } from '../border/odometers.js'
import { ref } from '../schemas/measures.js'
import { OdometerErrorAnswer, OdometerErrorRequest } from '../schemas/odometers.js'
import type { App, RouteOptions } from './options.js'

const tags = ['odometers']

export function odometerRoutes(app: App, { sizeTable }: RouteOptions): void {
  app.post(
    '/v1/odometers/error',
    {
      schema: {
        operationId: 'computeOdometerError',
        summary: 'Error of an odometer',
        description:
          'By how much the odometer over-reads or slow with the tire fitted, and the true distance behind a recorded one.',
        tags,
        body: ref(OdometerErrorRequest),
        response: { 200: ref(OdometerErrorAnswer) },
      },
    },
    (request) => odometerErrorOut(request.body, sizeTable),
  )
}
