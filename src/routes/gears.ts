import { trainsAreHeavy, trainsOut } from '../border/gears.js'
import { TrainsAnswer, TrainsRequest } from '../schemas/gears.js'
import { ref } from '../schemas/measures.js'
import { problems } from '../schemas/problems.js'
import { SEARCH } from '../schemas/rate-weights.js'
import { inThread } from './in-thread.js'
import type { App, RouteOptions } from './options.js'

export function gearRoutes(app: App, options: RouteOptions): void {
  app.post(
    '/v1/gears/trains',
    {
      schema: {
        operationId: 'findTrains',
        ...SEARCH,
        summary: 'Best gear trains for a ratio',
        description:
          'Best trains of one to three stages from the available wheels, by an exact search: no closer train exists within the limits. The answer also lists the convergents of the continued fraction.',
        tags: ['gears'],
        body: ref(TrainsRequest),
        response: { 200: ref(TrainsAnswer), ...problems(503) },
      },
    },
    ({ body }, reply) =>
      trainsAreHeavy(body) ? inThread(reply, options, 'gearTrains', body) : trainsOut(body),
  )
}
