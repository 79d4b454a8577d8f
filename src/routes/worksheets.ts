import { worksheetContent } from '../border/worksheets.js'
import { withPlots } from '../paper/worksheet.js'
import { ref } from '../schemas/measures.js'
import { calculationProblems } from '../schemas/problems.js'
import { VehicleProfile } from '../schemas/vehicles.js'
import { Worksheet } from '../schemas/worksheets.js'
import type { App, RouteOptions } from './options.js'
import { remedyParts } from './remedy-parts.js'

export function worksheetRoutes(app: App, { store, sizeTable, clock }: RouteOptions): void {
  app.post(
    '/v1/vehicle-checks/worksheet',
    {
      schema: {
        operationId: 'makeWorksheet',
        summary: 'A worksheet of a vehicle',
        description: 'A whole profile in; all that goes with a job ticket out. Nothing is stored.',
        tags: ['vehicle-checks'],
        body: ref(VehicleProfile),
        response: { 200: ref(Worksheet), ...calculationProblems() },
      },
    },
    async (request) => {
      const parts = await remedyParts(store, request.body)
      return withPlots(worksheetContent(request.body, sizeTable, parts, { atMs: clock() }))
    },
  )
}
