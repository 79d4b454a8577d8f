import { writing } from '../codec/answer.js'
import { boltCircle } from '../domain/parts/bolt-circle.js'
import { findCandidates } from '../domain/parts/candidates.js'
import { interfaceProbes } from '../domain/parts/mating.js'
import { noSuch } from '../http/shared.js'
import { BoltCircleAnswer, BoltCircleRequest } from '../schemas/bolt-circles.js'
import { ref } from '../schemas/named-shapes.js'
import { CandidateAnswer, CandidateQuery, DEFAULT_CANDIDATES } from '../schemas/part-candidates.js'
import { DEFAULT_TOLERANCE_MM } from '../schemas/part-interfaces.js'
import { problems } from '../schemas/problems.js'
import { RecordParams } from '../schemas/shared-records.js'
import { calculation } from './calculation.js'
import type { App, RouteOptions } from './options.js'
import { recordedPart } from './part-records.js'

const tag = 'parts'

/** Number of nearest parts compared for each interface, per candidate of the answer. */
const NEAR_PER_CANDIDATE = 2

const candidatesOf = writing({ answer: CandidateAnswer, compute: findCandidates })

export function boltCircleRoutes(app: App): void {
  app.post(
    '/v1/parts/bolt-circle',
    calculation({
      id: 'computeBoltCircle',
      summary: 'Bolt circle from a chord',
      description:
        'Diameter of the circle through evenly spaced holes, from the distance between two of them: for measurements if no hole is opposite another.',
      tag,
      body: BoltCircleRequest,
      answer: BoltCircleAnswer,
      compute: boltCircle,
    }),
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
        tags: [tag],
        params: RecordParams,
        querystring: CandidateQuery,
        response: { 200: ref(CandidateAnswer), ...problems(503) },
      },
    },
    async (request) => {
      const { tolerance = DEFAULT_TOLERANCE_MM, limit = DEFAULT_CANDIDATES } = request.query
      const stored = await parts.read(request.params.id)
      if (stored === undefined) throw noSuch('part')
      const toleranceM = tolerance / 1000
      const { id, interfaces } = recordedPart(stored)
      const probes = interfaces.map((one) => interfaceProbes(one, toleranceM))
      const near = await parts.near(id, probes, NEAR_PER_CANDIDATE * limit)
      const others = { ...near, parts: near.parts.map(recordedPart) }
      return candidatesOf(interfaces, others, toleranceM, limit)
    },
  )
}
