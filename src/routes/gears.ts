import { trainsAreHeavy } from '../domain/gears/find-trains.js'
import { TrainsAnswer, TrainsRequest } from '../schemas/gears.js'
import { SEARCH } from '../schemas/rate-weights.js'
import { calculationSchema } from './calculation.js'
import { inThread } from './in-thread.js'
import type { App, RouteOptions } from './options.js'
import { trainsAnswer } from './trains-answer.js'

export function gearRoutes(app: App, options: RouteOptions): void {
  app.post(
    '/v1/gears/trains',
    {
      schema: calculationSchema({
        body: TrainsRequest,
        answer: TrainsAnswer,
        id: 'findTrains',
        weight: SEARCH,
        summary: 'Best gear trains for a ratio',
        description:
          'Best trains of one to three stages from the available wheels, by an exact search: no closer train exists within the limits. The answer also lists the convergents of the continued fraction.',
        tag: 'gears',
        errors: [503],
      }),
    },
    ({ body }, reply) =>
      trainsAreHeavy(body) ? inThread(reply, options, 'gearTrains', body) : trainsAnswer(body),
  )
}
