import { writing } from '../codec/answer.js'
import type { PartFits, SharedAuthor } from '../db/store.js'
import { DomainError } from '../domain/errors.js'
import type { ReportDefaults } from '../domain/fits/report.js'
import { supportedFits } from '../domain/fits/search.js'
import { requireIfMatch } from '../http/etags.js'
import { FIT_TABLE, fitRow, readFitTable } from '../http/fit-table.js'
import { RequestProblem } from '../http/request-problem.js'
import { notChanged } from '../http/shared.js'
import { ID_COLUMNS } from '../http/tables.js'
import { FitInput, FitQuery, FitSearchAnswer, type FitShape, SavedFit } from '../schemas/fits.js'
import { ref } from '../schemas/named-shapes.js'
import { problems } from '../schemas/problems.js'
import { creation, reading, removal } from '../schemas/shared-records.js'
import { TABLE_BYTES, tableExport, tableImport } from '../schemas/tables.js'
import { fitInput, foundReports } from './fit-records.js'
import type { App, RouteOptions } from './options.js'
import { saveFor, sendResponse, sharedAuthorOf } from './stored-responses.js'
import { sendRead, sharedCreated } from './stored-shared.js'
import { exportTable, importTable, tableScope } from './tables.js'

const tags = ['fits']

/** One schema object, so that its validator is compiled once. */
const FIT = ref(FitInput)

const TABLE = {
  name: 'fits',
  columns: [...ID_COLUMNS, ...FIT_TABLE].map(({ name }) => name),
  example: `part,make,model,yearFrom,yearTo,result,evidence,author,date
01890a5d-ac96-774b-bcce-b302099a8057,Fennimark,Dorsel Two,1962,1966,fits,road-tested,club adviser,2026-05-17
`,
}

const createdAnswer = sharedCreated('/v1/fits')

/** One page of a search. */
const searchAnswer = writing({
  answer: FitSearchAnswer,
  compute: (items: readonly PartFits[], next: string | undefined) => {
    const search = supportedFits(foundReports(items))
    return next === undefined ? search : { ...search, next }
  },
})

/** A fit report names a part that is not in the store. */
function partUnknown(outcome: 'part-absent' | 'other-part-absent'): DomainError {
  const field = outcome === 'part-absent' ? 'part' : 'otherPart'
  return new DomainError('recorded-part-unknown', `${field}: there is no part of this id`, {
    pointer: `/${field}`,
  })
}

function requireVehicle({ year, make, model }: { year?: number; make?: string; model?: string }): void {
  if (year === undefined || make !== undefined || model !== undefined) return
  const detail = 'is required with year: give make, model or both'
  throw new RequestProblem('invalid-request', `query #/make ${detail}`, [
    { in: 'query', pointer: '#/make', code: 'missing', detail },
  ])
}

const DAY_MS = 86_400_000

/** Date in UTC, YYYY-MM-DD. */
const dayOf = (atMs: number) => new Date(atMs).toISOString().slice(0, 10)

async function reportDefaults(
  { store, clock }: RouteOptions,
  { accountId }: SharedAuthor,
): Promise<ReportDefaults> {
  const account = await store.accounts.read(accountId)
  const now = clock()
  return { author: account!.name, today: dayOf(now), tomorrow: dayOf(now + DAY_MS) }
}

export async function fitRoutes(app: App, options: RouteOptions): Promise<void> {
  listRoutes(app, options)
  await tableRoutes(app, options)
  recordRoutes(app, options)
}

function listRoutes(app: App, options: RouteOptions): void {
  const {
    cursors,
    store: { fits },
  } = options

  app.post(
    '/v1/fits',
    {
      schema: {
        operationId: 'createFit',
        summary: 'Report that a part fits or does not fit',
        description:
          'Records a fit report about a part and a vehicle or another part. Contradicting reports are stored side by side.',
        tags,
        ...creation(SavedFit, FIT, 'The fit report.'),
      },
    },
    async (request, reply) => {
      const author = sharedAuthorOf(request)
      const input = fitInput(request.body, await reportDefaults(options, author))
      const done = await fits.create(author, input, saveFor(request, createdAnswer))
      if (done.outcome !== 'created') throw partUnknown(done.outcome)
      return sendResponse(reply, createdAnswer(done.fit))
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
        response: { 200: ref(FitSearchAnswer), ...problems(503) },
      },
    },
    async (request) => {
      const { limit, cursor, ...filter } = request.query
      requireVehicle(filter)
      const page = cursors.page(['fits', filter], { limit, cursor })
      const found = await fits.search(filter, page.request)
      return searchAnswer(found.items, page.next(found.next))
    },
  )
}

async function tableRoutes(app: App, options: RouteOptions): Promise<void> {
  const { fits } = options.store

  app.get(
    '/v1/fits/export',
    {
      schema: {
        operationId: 'exportFits',
        summary: 'Fit reports as a table',
        description: 'All fit reports as CSV (RFC 4180); parts are given by their ids.',
        tags,
        ...tableExport(TABLE),
      },
    },
    (_request, reply) =>
      exportTable(reply, options, { table: TABLE, list: fits.list, rowsOf: (fit) => [fitRow(fit)] }),
  )

  await tableScope(app, options, (scope) => {
    scope.post(
      '/v1/fits/import',
      {
        bodyLimit: TABLE_BYTES,
        schema: {
          operationId: 'importFits',
          summary: 'Record fit reports from a table',
          description:
            'Records the fit reports of a table, all or none unless partial is set. A fit report never changes: a row with the id of a different report is refused.',
          tags,
          ...tableImport(TABLE),
        },
      },
      async (request, reply) => {
        const defaults = await reportDefaults(options, sharedAuthorOf(request))
        return importTable(request, reply, options, request.query, {
          records: await readFitTable(request.body, options.nextSlice),
          schema: FIT,
          inputOf: (value) => fitInput(value as FitShape, defaults),
          store: fits.import,
        })
      },
    )
  })
}

function recordRoutes(app: App, { store: { fits } }: RouteOptions): void {
  app.get(
    '/v1/fits/:id',
    {
      schema: {
        operationId: 'getFit',
        summary: 'Get a fit report',
        description: 'The fit report as recorded, with its author and who recorded it.',
        tags,
        ...reading(SavedFit, 'The fit report.'),
      },
    },
    async (request, reply) => sendRead(request, reply, await fits.read(request.params.id), 'fit report'),
  )

  app.delete(
    '/v1/fits/:id',
    {
      schema: {
        operationId: 'deleteFit',
        summary: 'Withdraw a fit report',
        description:
          'Only for the account that recorded it, or an admin. The history shows the report and who withdrew it.',
        tags,
        ...removal('Withdrawn.'),
      },
    },
    async (request, reply) => {
      const versions = requireIfMatch(request.headers)
      const done = await fits.remove(sharedAuthorOf(request), request.params.id, versions)
      if (done.outcome !== 'removed') throw notChanged(done, 'fit report', request.headers)
      return reply.code(204).send()
    },
  )
}
