import { boltCircleOut, candidatesOut, probesFor } from '../border/candidates.js'
import { noSuch } from '../border/shared.js'
import { ref } from '../schemas/measures.js'
import { BoltCircleAnswer, BoltCircleRequest, CandidateAnswer, CandidateQuery } from '../schemas/parts.js'
import { problems } from '../schemas/problems.js'
import { RecordParams } from '../schemas/shared-records.js'
import type { App, RouteOptions } from './options.js'

const tags = ['parts']

/** Number of nearest parts compared for each interface, per candidate of the answer. */
const NEAR_PER_CANDIDATE = 2

export function boltCircleRoutes(app: App): void {
  app.post(
    '/v1/parts/bolt-circle',
    {
      schema: {
        operationId: 'computeBoltCircle',
        summary: 'Bolt circle from a chord',
        description:
          'Diameter of the circle through evenly spaced holes, from the distance between two of them: for measurements if no hole is opposite another.',
        tags,
        body: ref(BoltCircleRequest),
        response: { 200: ref(BoltCircleAnswer) },
      },
    },
    (request) => boltCircleOut(request.body),
  )
}

export function candidateRoutes(app: App, { store: { parts } }: RouteOptions): void {
  app.get(
    '/v1/parts/:id/candidates',
    {
      schema: {
        operationId: 'findPartCandidates',
        summary: 'Parts that may fit a part',
        description:
          'Parts with an interface that mates with or matches one of this part within the tolerance, with the compared dimensions and their deviations. A candidate is not proven.',
        tags,
        params: RecordParams,
        querystring: CandidateQuery,
        response: { 200: ref(CandidateAnswer), ...problems(503) },
      },
    },
    async (request) => {
      const { tolerance = 0.5, limit = 50 } = request.query
      const part = await parts.read(request.params.id)
      if (part === undefined) throw noSuch('part')
      const toleranceM = tolerance / 1000
      const near = await parts.near(part.id, probesFor(part, toleranceM), NEAR_PER_CANDIDATE * limit)
      return candidatesOut(part, near, toleranceM, limit)
    },
  )
}
