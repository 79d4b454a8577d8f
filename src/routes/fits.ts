import { requireIfMatch } from '../border/conditions.js'
import {
  FIT_TABLE,
  fitInput,
  fitRow,
  fitSearchOut,
  partUnknown,
  readFitTable,
  type Saying,
} from '../border/fits.js'
import { RequestProblem } from '../border/request-problem.js'
import { notChanged } from '../border/shared.js'
import { ID_COLUMNS } from '../border/tables.js'
import type { Sharer } from '../db/store.js'
import { FitInput, FitParams, FitQuery, FitSearchAnswer, type FitShape, SavedFit } from '../schemas/fits.js'
import { ref } from '../schemas/measures.js'
import { problems } from '../schemas/problems.js'
import {
  ChangeHeaders,
  CreateHeaders,
  gone,
  KEY_NEEDED,
  made,
  ReadHeaders,
  shown,
  UNCHANGED,
} from '../schemas/stored.js'
import { ImportAnswer, ImportQuery, TABLE_BYTES, TableText } from '../schemas/tables.js'
import { keepFor, sendAnswer, sendUnlessUnchanged, sharerOf } from './keep.js'
import { sendShared, sharedCreated } from './kept-shared.js'
import type { App, RouteOptions } from './options.js'
import { exportTable, importTable, tableAnswer, tableScope } from './tables.js'

const tags = ['fits']
const security = KEY_NEEDED

/** One schema object, so that its validator is compiled once. */
const FIT = ref(FitInput)

const COLUMNS = [...ID_COLUMNS, ...FIT_TABLE].map(({ name }) => name)

const EXAMPLE_TABLE = `part,make,model,yearFrom,yearTo,result,evidence,author,date
01890a5d-ac96-774b-bcce-b302099a8057,Larkspur,Type 9,1962,1966,fits,road-tested,P. Underhill,2026-05-17
`

const noFit = () => new RequestProblem('not-found', 'There is no such fit report.')

const createdAnswer = sharedCreated('/v1/fits')

function requireVehicle({ year, make, model }: { year?: number; make?: string; model?: string }): void {
  if (year === undefined || make !== undefined || model !== undefined) return
  const detail = 'is required where a year is given: give make, model or both'
  throw new RequestProblem('invalid-request', `query #/make ${detail}`, [
    { in: 'query', pointer: '#/make', code: 'missing', detail },
  ])
}

export async function fitRoutes(app: App, { store, clock, cursors }: RouteOptions): Promise<void> {
  const { fits, accounts } = store

  async function sayingOf({ accountId }: Sharer): Promise<Saying> {
    const account = await accounts.read(accountId)
    return { author: account!.name, today: new Date(clock()).toISOString().slice(0, 10) }
  }

  app.post(
    '/v1/fits',
    {
      schema: {
        operationId: 'createFit',
        summary: 'State that a part fits, or does not',
        description:
          'Records a report about a part and a vehicle or another part. Reports that contradict it stay beside it.',
        tags,
        security,
        headers: CreateHeaders,
        body: FIT,
        response: {
          201: made(SavedFit, 'The report.'),
          ...problems(400, 401, 403, 409, 413, 415, 422, 429, 503),
        },
      },
    },
    async (request, reply) => {
      const sharer = sharerOf(request)
      const input = fitInput(request.body, await sayingOf(sharer))
      const done = await fits.create(sharer, input, keepFor(request, createdAnswer))
      if (done.outcome !== 'created') throw partUnknown(done.outcome)
      return sendAnswer(reply, createdAnswer(done.fit))
    },
  )

  app.get(
    '/v1/fits',
    {
      schema: {
        operationId: 'searchFits',
        summary: 'What fits',
        description:
          'Fit reports by part, with how well they support the fit; by make, model, year, kind of part or part, together or apart.',
        tags,
        querystring: FitQuery,
        response: { 200: ref(FitSearchAnswer), ...problems(400, 401, 429, 503) },
      },
    },
    async (request) => {
      const { limit, cursor, ...filter } = request.query
      requireVehicle(filter)
      const page = cursors.page(['fits', filter], { limit, cursor })
      const found = await fits.search(filter, page.request)
      return fitSearchOut(found, page.next(found.next))
    },
  )

  app.get(
    '/v1/fits/export',
    {
      schema: {
        operationId: 'exportFits',
        summary: 'Fit reports as a table',
        description: 'Every report (RFC 4180); the parts are named by their ids.',
        tags,
        response: {
          200: tableAnswer('fits', COLUMNS),
          ...problems(400, 401, 429, 503),
        },
      },
    },
    (_request, reply) => exportTable(reply, 'fits', COLUMNS, fits.list, (fit) => [fitRow(fit)]),
  )

  await tableScope(app, (scope) => {
    scope.post(
      '/v1/fits/import',
      {
        bodyLimit: TABLE_BYTES,
        schema: {
          operationId: 'importFits',
          summary: 'Record fit reports from a table',
          description:
            'Records the reports of a table, all or none unless partial is asked for. A report is never changed: a row with the id of one that says otherwise is refused.',
          tags,
          security,
          consumes: ['text/csv'],
          headers: CreateHeaders,
          querystring: ImportQuery,
          body: TableText(COLUMNS, EXAMPLE_TABLE),
          response: { 200: ref(ImportAnswer), ...problems(400, 401, 403, 409, 413, 415, 422, 429, 503) },
        },
      },
      async (request, reply) => {
        const saying = await sayingOf(sharerOf(request))
        return importTable(request, reply, request.query, {
          records: readFitTable(request.body),
          schema: FIT,
          inputOf: (value) => fitInput(value as FitShape, saying),
          store: fits.import,
        })
      },
    )
  })

  app.get(
    '/v1/fits/:id',
    {
      schema: {
        operationId: 'getFit',
        summary: 'A fit report',
        description: 'The report as it was made, with its author and who recorded it.',
        tags,
        params: FitParams,
        headers: ReadHeaders,
        response: {
          200: shown(SavedFit, 'The report.'),
          304: UNCHANGED,
          ...problems(400, 401, 404, 429, 503),
        },
      },
    },
    async (request, reply) => {
      const fit = await fits.read(request.params.id)
      if (fit === undefined) throw noFit()
      return sendUnlessUnchanged(request, reply, fit.version, () => sendShared(reply, fit))
    },
  )

  app.delete(
    '/v1/fits/:id',
    {
      schema: {
        operationId: 'deleteFit',
        summary: 'Take a fit report back',
        description:
          'Only the account that recorded it, or an admin. The record keeps it, with who took it back.',
        tags,
        security,
        params: FitParams,
        headers: ChangeHeaders,
        response: {
          204: gone('It is taken back.'),
          ...problems(400, 401, 403, 404, 412, 428, 429, 503),
        },
      },
    },
    async (request, reply) => {
      const versions = requireIfMatch(request.headers)
      const done = await fits.remove(sharerOf(request), request.params.id, versions)
      if (done.outcome !== 'removed') throw notChanged(done, 'fit report', request.headers)
      return reply.code(204).send()
    },
  )
}
