import { nextTestOut } from '../border/faults.js'
import { NextTestAnswer, NextTestRequest } from '../schemas/faults.js'
import { ref } from '../schemas/measures.js'
import { calculationProblems } from '../schemas/problems.js'
import { SEARCH } from '../schemas/rate-weights.js'
import type { App } from './options.js'

export function faultRoutes(app: App): void {
  app.post(
    '/v1/faults/next-test',
    {
      schema: {
        operationId: 'chooseNextTest',
        ...SEARCH,
        summary: 'Next test of a faulty chain',
        description:
          'From a chain of links and all observations so far: how likely each link is at fault, tests ranked by information per minute, what each outcome would mean, and the test that leads to the fault in the fewest minutes. Nothing is kept: send every observation each time.',
        tags: ['faults'],
        body: ref(NextTestRequest),
        response: { 200: ref(NextTestAnswer), ...calculationProblems() },
      },
    },
    (request) => nextTestOut(request.body),
  )
}
