import { trainsOut } from '../border/gears.js'
import { TrainsAnswer, TrainsRequest } from '../schemas/gears.js'
import { ref } from '../schemas/measures.js'
import { calculationProblems } from '../schemas/problems.js'
import { SEARCH } from '../schemas/rate-weights.js'
import type { App } from './options.js'

export function gearRoutes(app: App): void {
  app.post(
    '/v1/gears/trains',
    {
      schema: {
        operationId: 'findTrains',
        ...SEARCH,
        summary: 'Best gear trains for a ratio',
        description:
          'Best trains of one to three stages from the wheels that can be had, by an exact search: nothing nearer exists within the limits. The convergents of the continued fraction are shown beside them.',
        tags: ['gears'],
        body: ref(TrainsRequest),
        response: { 200: ref(TrainsAnswer), ...calculationProblems() },
      },
    },
    (request) => trainsOut(request.body),
  )
}
