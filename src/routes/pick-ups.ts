import { pickUpComparisonAnswer } from '../border/pick-ups.js'
import { ref } from '../schemas/measures.js'
import { PickUpComparisonAnswer, PickUpComparisonRequest } from '../schemas/pick-ups.js'
import type { App, RouteOptions } from './options.js'

export function pickUpRoutes(app: App, { sizeTable }: RouteOptions): void {
  app.post(
    '/v1/pick-ups/comparison',
    {
      schema: {
        operationId: 'comparePickUps',
        summary: 'Ways to pick up the speed',
        description:
          'Compares ring, gearbox, sensor, satellite and motor-driven head on one car: resolution, delay, lowest speed, first reading, bends, tunnels, odometer, error budget and risks.',
        tags: ['pick-ups'],
        body: ref(PickUpComparisonRequest),
        response: { 200: ref(PickUpComparisonAnswer) },
      },
    },
    (request) => pickUpComparisonAnswer(request.body, sizeTable),
  )
}
