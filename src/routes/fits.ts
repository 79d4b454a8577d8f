import { requireIfMatch } from '../border/conditions.js'
import {
  FIT_TABLE,
  fitInput,
  fitRow,
  fitSearchOut,
  partUnknown,
  type ReportDefaults,
  readFitTable,
} from '../border/fits.js'
import { RequestProblem } from '../border/request-problem.js'
import { notChanged } from '../border/shared.js'
import { ID_COLUMNS } from '../border/tables.js'
import type { Sharer } from '../db/store.js'
import { FitInput, FitParams, FitQuery, FitSearchAnswer, type FitShape, SavedFit } from '../schemas/fits.js'
import { ref } from '../schemas/measures.js'
import { problems } from '../schemas/problems.js'
import { LONG, SEARCH } from '../schemas/rate-weights.js'
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
01890a5d-ac96-774b-bcce-b302099a8057,Fennimark,Dorsel Two,1962,1966,fits,road-tested,club adviser,2026-05-17
`

const noFit = () => new RequestProblem('not-found', 'There is no such fit report.')

const createdAnswer = sharedCreated('/v1/fits')

function requireVehicle({ year, make, model }: { year?: number; make?: string; model?: string }): void {
  if (year === undefined || make !== undefined || model !== undefined) return
  const detail = 'is required with year: give make, model or both'
  throw new RequestProblem('invalid-request', `query #/make ${detail}`, [
    { in: 'query', pointer: '#/make', code: 'missing', detail },
  ])
}

export async function fitRoutes(app: App, options: RouteOptions): Promise<void> {
  const { clock, cursors } = options
  const { fits, accounts } = options.store

  async function reportDefaults({ accountId }: Sharer): Promise<ReportDefaults> {
    const account = await accounts.read(accountId)
    return { author: account!.name, today: new Date(clock()).toISOString().slice(0, 10) }
  }

  app.post(
    '/v1/fits',
    {
      schema: {
        operationId: 'createFit',
        summary: 'Report that a part fits or does not fit',
        description:
          'Records a fit report about a part and a vehicle or another part. Contradicting reports are kept.',
        tags,
        security,
        headers: CreateHeaders,
        body: FIT,
        response: {
          201: made(SavedFit, 'The fit report.'),
          ...problems(400, 401, 403, 409, 413, 415, 422, 429, 503),
        },
      },
    },
    async (request, reply) => {
      const author = sharerOf(request)
      const input = fitInput(request.body, await reportDefaults(author))
      const done = await fits.create(author, input, keepFor(request, createdAnswer))
      if (done.outcome !== 'created') throw partUnknown(done.outcome)
      return sendAnswer(reply, createdAnswer(done.fit))
    },
  )

  app.get(
    '/v1/fits',
    {
      schema: {
        operationId: 'searchFits',
        summary: 'Search fit reports',
        description:
          'Fit reports by part, with how well they support the fit. Filter by make, model, year, kind of part or part, alone or combined.',
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
        ...SEARCH,
        summary: 'Fit reports as a table',
        description: 'All fit reports as CSV (RFC 4180); parts are given by their ids.',
        tags,
        response: {
          200: tableAnswer('fits', COLUMNS),
          ...problems(400, 401, 429, 503),
        },
      },
    },
    (_request, reply) =>
      exportTable(reply, options, {
        name: 'fits',
        columns: COLUMNS,
        list: fits.list,
        rowsOf: (fit) => [fitRow(fit)],
      }),
  )

  await tableScope(app, options, (scope) => {
    scope.post(
      '/v1/fits/import',
      {
        bodyLimit: TABLE_BYTES,
        schema: {
          operationId: 'importFits',
          ...LONG,
          summary: 'Record fit reports from a table',
          description:
            'Records the fit reports of a table, all or none unless partial is set. A fit report never changes: a row with the id of a different report is refused.',
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
        const defaults = await reportDefaults(sharerOf(request))
        return importTable(request, reply, options, request.query, {
          records: readFitTable(request.body),
          schema: FIT,
          inputOf: (value) => fitInput(value as FitShape, defaults),
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
        summary: 'Get a fit report',
        description: 'The fit report as recorded, with its author and who recorded it.',
        tags,
        params: FitParams,
        headers: ReadHeaders,
        response: {
          200: shown(SavedFit, 'The fit report.'),
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
        summary: 'Withdraw a fit report',
        description:
          'Only for the account that recorded it, or an admin. The history keeps the report and who withdrew it.',
        tags,
        security,
        params: FitParams,
        headers: ChangeHeaders,
        response: {
          204: gone('It is withdrawn.'),
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
