import { benchTableOut, countCheckOut } from '../border/cable-bench.js'
import {
  BenchTableAnswer,
  BenchTableRequest,
  CountCheckAnswer,
  CountCheckRequest,
} from '../schemas/cable-bench.js'
import { ref } from '../schemas/measures.js'
import { calculationProblems } from '../schemas/problems.js'
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
          'For each mark of a dial the rate of turning or frequency to drive it at, what it may show, which way to turn and how far a drill goes.',
        tags,
        body: ref(BenchTableRequest),
        response: { 200: ref(BenchTableAnswer), ...calculationProblems() },
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
          'From turns counted over a rolled distance: turns per distance with their uncertainty, and against tire and stages whether the ratio is what it is believed to be.',
        tags,
        body: ref(CountCheckRequest),
        response: { 200: ref(CountCheckAnswer), ...calculationProblems() },
      },
    },
    (request) => countCheckOut(request.body, sizeTable),
  )
}
