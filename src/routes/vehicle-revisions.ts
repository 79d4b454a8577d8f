import { RequestProblem } from '../http/request-problem.js'
import { changeText, pageText, revisionText } from '../http/saved-vehicles.js'
import { ref } from '../schemas/named-shapes.js'
import {
  RevisionListQuery,
  RevisionParams,
  VehicleChangeList,
  VehicleParams,
  VehicleRevision,
} from '../schemas/saved-vehicles.js'
import { KEY_NEEDED } from '../schemas/stored.js'
import type { App, RouteOptions } from './options.js'
import { authorOf, sendText } from './stored-responses.js'
import { noVehicle } from './stored-vehicles.js'

const tags = ['vehicles']
const security = KEY_NEEDED

export function vehicleRevisionRoutes(app: App, { store, cursors }: RouteOptions): void {
  const { vehicles } = store

  app.get(
    '/v1/vehicles/:id/revisions',
    {
      schema: {
        operationId: 'listVehicleRevisions',
        summary: 'Changes of a vehicle',
        description: 'Who changed it and when, newest first, in pages; also for a deleted vehicle.',
        tags,
        security,
        params: VehicleParams,
        querystring: RevisionListQuery,
        response: { 200: ref(VehicleChangeList) },
      },
    },
    async (request, reply) => {
      const { accountId } = authorOf(request)
      const page = cursors.page([accountId, 'revisions', request.params.id], request.query)
      const found = await vehicles.revisions(accountId, request.params.id, page.request)
      if (found === undefined) throw noVehicle()
      return sendText(reply, pageText('revisions', found.items.map(changeText), page.next(found.next)))
    },
  )

  app.get(
    '/v1/vehicles/:id/revisions/:version',
    {
      schema: {
        operationId: 'getVehicleRevision',
        summary: 'A vehicle as it was',
        description: 'One change, with the vehicle as it was after it; also for a deleted vehicle.',
        tags,
        security,
        params: RevisionParams,
        response: { 200: ref(VehicleRevision) },
      },
    },
    async (request, reply) => {
      const { id, version } = request.params
      const revision = await vehicles.revision(authorOf(request).accountId, id, version)
      if (revision === undefined) throw new RequestProblem('not-found', 'There is no such revision.')
      return sendText(reply, revisionText(revision))
    },
  )
}
