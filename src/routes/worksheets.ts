import { Type } from '@sinclair/typebox'
import type { FastifyReply } from 'fastify'
import { checkPathNames } from '../domain/vehicles/given-vehicle.js'
import { preferred } from '../http/accept.js'
import { contentTag, hasAnswer } from '../http/etags.js'
import { instant, profileOf } from '../http/saved-vehicles.js'
import { varyBy } from '../http/vary.js'
import { HTML_POLICY, htmlPage } from '../paper/html.js'
import { withPlots } from '../paper/worksheet.js'
import { worksheetSheet } from '../paper/worksheet-sheet.js'
import { VARY } from '../schemas/answers.js'
import { ref } from '../schemas/named-shapes.js'
import { problems } from '../schemas/problems.js'
import { SEARCH } from '../schemas/rate-weights.js'
import { VehicleParams } from '../schemas/saved-vehicles.js'
import { KEY_NEEDED, ReadHeaders, UNCHANGED } from '../schemas/stored.js'
import { VehicleProfile } from '../schemas/vehicles.js'
import { type PaperChoice, Worksheet, WorksheetQuery, type WorksheetShape } from '../schemas/worksheets.js'
import type { App, RouteOptions } from './options.js'
import { remedyParts } from './remedy-parts.js'
import { authorOf } from './stored-responses.js'
import { noVehicle } from './stored-vehicles.js'
import { worksheetContent } from './worksheet-content.js'

const FORMS = ['application/json', 'text/html', 'application/pdf'] as const

type Form = (typeof FORMS)[number]

const ANSWER = {
  description: 'The worksheet.',
  headers: VARY,
  content: {
    'application/json': { schema: ref(Worksheet) },
    'text/html': { schema: { type: 'string', description: 'A page to print, A4 or Letter.' } },
    'application/pdf': {
      schema: { type: 'string', format: 'binary', description: 'The same on the paper asked for.' },
    },
  },
}

const TAG = Type.String({
  pattern: '^"[1-9][0-9]*-[^"]+"$',
  description: 'Version of the vehicle and a mark of all that the sheet shows, for If-None-Match.',
})

const WHAT =
  'Car, chain from wheel to dial, table and plot of the error with what the rule allows, findings, remedies, bench table, road test form, what was measured and what assumed, sources and cautions. As JSON, or with Accept: text/html or application/pdf to print.'

/** Day of a moment, UTC. */
const dayOf = (atMs: number) => instant(atMs).slice(0, 10)

export function worksheetRoutes(app: App, { store, sizeTable, clock, runJob }: RouteOptions): void {
  async function send(reply: FastifyReply, form: Form, worksheet: WorksheetShape, paper: PaperChoice = 'a4') {
    switch (form) {
      case 'application/json':
        return reply.send(worksheet)
      case 'text/html':
        return reply
          .header('content-security-policy', HTML_POLICY)
          .type('text/html; charset=utf-8')
          .send(htmlPage(worksheetSheet(worksheet)))
      case 'application/pdf':
        // Rendering the PDF takes many times as long as the rest of the request.
        return reply
          .type('application/pdf')
          .send(await runJob(reply.request, 'worksheetPdf', { worksheet, paper }))
    }
  }

  app.post(
    '/v1/vehicle-checks/worksheet',
    {
      schema: {
        operationId: 'makeWorksheet',
        ...SEARCH,
        summary: 'A worksheet of a vehicle',
        description: `Takes the profile of a vehicle and returns a sheet for the job ticket. ${WHAT} Nothing is stored.`,
        tags: ['vehicle-checks'],
        querystring: WorksheetQuery,
        body: ref(VehicleProfile),
        response: { 200: ANSWER, ...problems(503) },
      },
    },
    async (request, reply) => {
      const form = preferred(request.headers.accept, FORMS)
      const { body: profile } = request
      checkPathNames(profile)
      const parts = await remedyParts(store, profile)
      const worksheet = withPlots(worksheetContent(profile, sizeTable, parts, { date: dayOf(clock()) }))
      return send(varyBy(reply, 'accept'), form, worksheet, request.query.paper)
    },
  )

  app.get(
    '/v1/vehicles/:id/worksheet',
    {
      schema: {
        operationId: 'getVehicleWorksheet',
        ...SEARCH,
        summary: 'The worksheet of a stored vehicle',
        description: `${WHAT} ETag changes with whatever the sheet shows: with the profile, the day, the recorded parts, the form and the paper; its first number is the version of the vehicle.`,
        tags: ['vehicles'],
        security: KEY_NEEDED,
        params: VehicleParams,
        headers: ReadHeaders,
        querystring: WorksheetQuery,
        response: {
          200: { ...ANSWER, headers: { ...VARY, etag: TAG } },
          304: { ...UNCHANGED, headers: { ...VARY, etag: TAG } },
          ...problems(422),
        },
      },
    },
    async (request, reply) => {
      const form = preferred(request.headers.accept, FORMS)
      const vehicle = await store.vehicles.read(authorOf(request).accountId, request.params.id)
      if (vehicle === undefined) throw noVehicle()
      const { id, version, changedAtMs } = vehicle
      const profile = profileOf(vehicle)
      const parts = await remedyParts(store, profile)
      const revision = { id, version, changedAt: instant(changedAtMs) }
      const worksheet = withPlots(
        worksheetContent(profile, sizeTable, parts, { date: dayOf(clock()), revision }),
      )
      const { paper = 'a4' } = request.query
      const tag = contentTag(version, `${form} ${paper} ${JSON.stringify(worksheet)}`)
      varyBy(reply.header('etag', tag), 'accept')
      if (hasAnswer(request.headers, tag)) return reply.code(304).send()
      return send(reply, form, worksheet, paper)
    },
  )
}
