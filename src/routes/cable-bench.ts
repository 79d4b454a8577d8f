import { benchTableOut, countCheckOut } from '../border/cable-bench.js'
import {
  BenchTableAnswer,
  BenchTableRequest,
  CountCheckAnswer,
  CountCheckRequest,
} from '../schemas/cable-bench.js'
import { ref } from '../schemas/measures.js'
import type { App, RouteOptions } from './options.js'

const tags = ['cables']

export function cableBenchRoutes(app: App, { sizeTable }: RouteOptions): void {
  app.post(
    '/v1/cables/bench-table',
    {
      schema: {
        operationId: 'computeBenchTable',
        summary: 'How to drive a head on the bench',
        description:
          'Returns for each mark of a dial the rate of turning, or the frequency, at which to drive the head, and what it may show; also the direction to turn and the speed that a drill reaches.',
        tags,
        body: ref(BenchTableRequest),
        response: { 200: ref(BenchTableAnswer) },
      },
    },
    (request) => benchTableOut(request.body),
  )

  app.post(
    '/v1/cables/count-check',
    {
      schema: {
        operationId: 'checkCableCount',
        summary: 'Turns of a cable over a distance',
        description:
          'Takes the turns of a cable counted over a rolled distance. Returns the turns per distance with their uncertainty and, with tire and stages, whether the overall ratio is as stated.',
        tags,
        body: ref(CountCheckRequest),
        response: { 200: ref(CountCheckAnswer) },
      },
    },
    (request) => countCheckOut(request.body, sizeTable),
  )
}
