import { geometryAt, tireGeometryOut } from '../border/tires.js'
import { ref } from '../schemas/measures.js'
import { calculationProblems, problems } from '../schemas/problems.js'
import { TireGeometryAnswer, TireGeometryRequest, TireSizeQuery } from '../schemas/tires.js'
import type { App, RouteOptions } from './options.js'

const tags = ['tires']

export function tireRoutes(app: App, { sizeTable }: RouteOptions): void {
  app.get(
    '/v1/tires',
    {
      schema: {
        operationId: 'getTireGeometry',
        summary: 'Geometry of a tire size',
        description:
          'Reads a tire size and answers its diameter, rolling circumference and turns, with their doubt.',
        tags,
        querystring: TireSizeQuery,
        response: { 200: ref(TireGeometryAnswer), ...problems(400, 422) },
      },
    },
    (request) => tireGeometryOut(geometryAt('', { size: request.query.size }, sizeTable, 'query')),
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
}
