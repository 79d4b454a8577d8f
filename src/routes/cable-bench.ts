import { benchTable } from '../domain/cables/bench-table.js'
import { checkCableCount } from '../domain/cables/cable-count.js'
import {
  BenchTableAnswer,
  BenchTableRequest,
  CountCheckAnswer,
  CountCheckRequest,
} from '../schemas/cable-bench.js'
import { calculation } from './calculation.js'
import type { App, RouteOptions } from './options.js'

const tag = 'cables'

export function cableBenchRoutes(app: App, { sizeTable }: RouteOptions): void {
  app.post(
    '/v1/cables/bench-table',
    calculation({
      id: 'computeBenchTable',
      summary: 'How to drive a head on the bench',
      description:
        'Returns for each mark of a dial the rate of turning, or the frequency, at which to drive the head, and what it may show; also the direction to turn and the speed that a drill reaches.',
      tag,
      body: BenchTableRequest,
      answer: BenchTableAnswer,
      compute: benchTable,
    }),
  )

  app.post(
    '/v1/cables/count-check',
    calculation(
      {
        id: 'checkCableCount',
        summary: 'Turns of a cable over a distance',
        description:
          'Takes the turns of a cable counted over a rolled distance. Returns the turns per distance with their uncertainty and, with tire and stages, whether the overall ratio is as stated.',
        tag,
        body: CountCheckRequest,
        answer: CountCheckAnswer,
        compute: checkCableCount,
      },
      sizeTable,
    ),
  )
}
