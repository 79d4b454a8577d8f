import { comparePickUps } from '../domain/pick-ups/comparison.js'
import { ringMounting } from '../domain/pick-ups/ring-mounting.js'
import { PickUpComparisonAnswer, PickUpComparisonRequest } from '../schemas/pick-ups.js'
import { RingMountingAnswer, RingMountingRequest } from '../schemas/ring-mounting.js'
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

  app.post(
    '/v1/pick-ups/ring-mounting',
    calculation({
      id: 'checkRingMounting',
      summary: 'Mounting of a pulse ring',
      description:
        'Whether a ring goes on or grips its spigot or shaft, its run-out, the joints of a cut ring, the ripple of its pulses, and its hoop stress and unbalance at the highest speed of the shaft.',
      tag: 'pick-ups',
      body: RingMountingRequest,
      answer: RingMountingAnswer,
      compute: ringMounting,
    }),
  )
}
