import { comparePickUps } from '../domain/pick-ups/comparison.js'
import { PickUpComparisonAnswer, PickUpComparisonRequest } from '../schemas/pick-ups.js'
import { calculation } from './calculation.js'
import type { App, RouteOptions } from './options.js'

export function pickUpRoutes(app: App, { sizeTable }: RouteOptions): void {
  app.post(
    '/v1/pick-ups/comparison',
    calculation(
      {
        id: 'comparePickUps',
        summary: 'Ways to pick up the speed',
        description:
          'Compares ring, gearbox, sensor, satellite and motor-driven head on one car: resolution, delay, lowest speed, first reading, bends, tunnels, odometer, error budget and risks.',
        tag: 'pick-ups',
        body: PickUpComparisonRequest,
        answer: PickUpComparisonAnswer,
        compute: comparePickUps,
      },
      sizeTable,
    ),
  )
}
