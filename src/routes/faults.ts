import { chooseNextTest } from '../domain/faults/choose-next-test.js'
import { NextTestAnswer, NextTestRequest } from '../schemas/faults.js'
import { SEARCH } from '../schemas/rate-weights.js'
import { calculation } from './calculation.js'
import type { App } from './options.js'

/** Fifty tests of 20 links each with names of 80 letters. The schema admits 770 kB, with each letter of each name escaped. */
const BODY_LIMIT = 131_072

export function faultRoutes(app: App): void {
  app.post('/v1/faults/next-test', {
    bodyLimit: BODY_LIMIT,
    ...calculation({
      id: 'chooseNextTest',
      weight: SEARCH,
      summary: 'Next test of a faulty speedometer drive',
      description:
        'Takes the links of a drive, mechanical or electronic, and all observations so far. Returns the probability that each link is at fault, the tests ranked by information per minute, the result of each outcome, and the test with the fewest expected minutes to the fault. The service stores nothing: send every observation each time.',
      tag: 'faults',
      body: NextTestRequest,
      answer: NextTestAnswer,
      compute: chooseNextTest,
    }),
  })
}
