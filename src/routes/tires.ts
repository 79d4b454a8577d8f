import { writing } from '../codec/answer.js'
import { reading } from '../codec/request.js'
import { withPointer } from '../domain/errors.js'
import { comparisonIsHeavy, knownTires } from '../domain/tires/comparison.js'
import { tireReport, tireSizeReport } from '../domain/tires/report.js'
import { rollout } from '../domain/tires/rollout.js'
import { ref } from '../schemas/named-shapes.js'
import { problems } from '../schemas/problems.js'
import { SEARCH } from '../schemas/rate-weights.js'
import {
  ComparisonAnswer,
  ComparisonRequest,
  RolloutAnswer,
  RolloutRequest,
  TireGeometryAnswer,
  TireGeometryRequest,
  TireSizeQuery,
} from '../schemas/tires.js'
import { calculation, calculationSchema } from './calculation.js'
import { inThread } from './in-thread.js'
import type { App, RouteOptions } from './options.js'
import { comparisonAnswer } from './tire-comparison.js'

const tag = 'tires'

const tireSizeAnswer = writing({ answer: TireGeometryAnswer, compute: tireSizeReport })
const comparisonOf = reading({ body: ComparisonRequest, compute: knownTires })

export function tireRoutes(app: App, options: RouteOptions): void {
  const { sizeTable } = options
  app.get(
    '/v1/tires',
    {
      schema: {
        operationId: 'getTireGeometry',
        summary: 'Geometry of a tire size',
        description:
          'Reads a tire size and answers its diameter, rolling circumference and turns, with their uncertainty.',
        tags: [tag],
        querystring: TireSizeQuery,
        response: { 200: ref(TireGeometryAnswer), ...problems(422) },
      },
    },
    ({ query }) => withPointer('', () => tireSizeAnswer(query, sizeTable), 'query'),
  )

  app.post(
    '/v1/tires/geometry',
    calculation(
      {
        id: 'computeTireGeometry',
        summary: 'Geometry of a tire',
        description: 'Geometry of a tire known by its size and wear, or by a measurement.',
        tag,
        body: TireGeometryRequest,
        answer: TireGeometryAnswer,
        compute: tireReport,
      },
      sizeTable,
    ),
  )

  app.post(
    '/v1/tires/rollout',
    calculation({
      id: 'computeRollout',
      summary: 'Rolling circumference from roll-outs',
      description:
        'Takes runs over level ground: wheel turns and the distance rolled in them. Returns the rolling circumference with its uncertainty, and which runs are outliers.',
      tag,
      body: RolloutRequest,
      answer: RolloutAnswer,
      compute: rollout,
    }),
  )

  app.post(
    '/v1/tires/comparison',
    {
      schema: calculationSchema({
        id: 'compareTires',
        weight: SEARCH,
        summary: 'Compare tires',
        description:
          'What other tires do to the reading of a speedometer and an odometer that were right with the first tire.',
        tag,
        body: ComparisonRequest,
        answer: ComparisonAnswer,
        errors: [503],
      }),
    },
    ({ body }, reply) => {
      const tires = knownTires(comparisonOf(body), sizeTable)
      return comparisonIsHeavy(tires)
        ? inThread(reply, options, 'tireComparison', tires)
        : comparisonAnswer(tires)
    },
  )
}
