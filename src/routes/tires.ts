import {
  comparisonGiven,
  comparisonIsHeavy,
  comparisonOut,
  geometryAt,
  rolloutOut,
  tireGeometryOut,
} from '../border/tires.js'
import { ref } from '../schemas/measures.js'
import { calculationProblems, problems } from '../schemas/problems.js'
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
import { inThread } from './in-thread.js'
import type { App, RouteOptions } from './options.js'

const tags = ['tires']

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
        tags,
        querystring: TireSizeQuery,
        response: { 200: ref(TireGeometryAnswer), ...problems(400, 422) },
      },
    },
    (request) => tireGeometryOut(geometryAt('', request.query, sizeTable, 'query')),
  )

  app.post(
    '/v1/tires/geometry',
    {
      schema: {
        operationId: 'computeTireGeometry',
        summary: 'Geometry of a tire',
        description: 'Geometry of a tire known by its size and wear, or by a measurement.',
        tags,
        body: ref(TireGeometryRequest),
        response: { 200: ref(TireGeometryAnswer), ...calculationProblems() },
      },
    },
    (request) => tireGeometryOut(geometryAt('/tire', request.body.tire, sizeTable)),
  )

  app.post(
    '/v1/tires/rollout',
    {
      schema: {
        operationId: 'computeRollout',
        summary: 'Rolling circumference from roll-outs',
        description:
          'Takes runs over level ground: wheel turns and the distance rolled in them. Returns the rolling circumference with its uncertainty, and which runs are outliers.',
        tags,
        body: ref(RolloutRequest),
        response: { 200: ref(RolloutAnswer), ...calculationProblems() },
      },
    },
    (request) => rolloutOut(request.body),
  )

  app.post(
    '/v1/tires/comparison',
    {
      schema: {
        operationId: 'compareTires',
        ...SEARCH,
        summary: 'Compare tires',
        description:
          'What other tires do to the reading of a speedometer and an odometer that were right with the first tire.',
        tags,
        body: ref(ComparisonRequest),
        response: { 200: ref(ComparisonAnswer), ...calculationProblems(), ...problems(503) },
      },
    },
    ({ body }, reply) => {
      const given = comparisonGiven(body, sizeTable)
      return comparisonIsHeavy(body)
        ? inThread(reply, options, 'tireComparison', given)
        : comparisonOut(given)
    },
  )
}
