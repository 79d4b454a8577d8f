import { requireIfMatch } from '../border/conditions.js'
import { RequestProblem } from '../border/request-problem.js'
import { pageText } from '../border/saved-vehicles.js'
import { notChanged, sharedText } from '../border/shared.js'
import { ID_COLUMNS } from '../border/tables.js'
import {
  readTireSizeTable,
  type SizeTables,
  TIRE_SIZE_TABLE,
  tireSizeInput,
  tireSizeRow,
} from '../border/tire-sizes.js'
import { at } from '../domain/errors.js'
import { parseTireSize } from '../domain/tires/size.js'
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
import {
  SavedTireSize,
  SavedTireSizeList,
  TireSizeInput,
  TireSizeListQuery,
  TireSizeParams,
  type TireSizeShape,
} from '../schemas/tire-sizes.js'
import { keepFor, sendAnswer, sendText, sendUnlessUnchanged, sharerOf } from './keep.js'
import { sendShared, sharedCreated } from './kept-shared.js'
import type { App, RouteOptions } from './options.js'
import { exportTable, importTable, tableAnswer, tableScope } from './tables.js'

const tags = ['tire-sizes']
const security = KEY_NEEDED

/** One schema object, so that its validator is compiled once. */
const ROW = ref(TireSizeInput)

const COLUMNS = [...ID_COLUMNS, ...TIRE_SIZE_TABLE].map(({ name }) => name)

const EXAMPLE_TABLE = `size,overallDiameterMm,sectionWidthMm,construction,source
G78-15,717,208,diagonal,"Measured on four new tires, club stores"
`

const noRow = () => new RequestProblem('not-found', 'There is no such tire size row.')

const taken = (id: string) =>
  new RequestProblem('tire-size-taken', `The row ${id} has this size.`, [
    { in: 'body', pointer: '#/size', code: 'taken', detail: `is that of the row ${id}` },
  ])

const createdAnswer = sharedCreated('/v1/tire-sizes')

export async function tireSizeRoutes(app: App, options: RouteOptions, sizes: SizeTables): Promise<void> {
  const { cursors } = options
  const { tireSizes } = options.store

  app.post(
    '/v1/tire-sizes',
    {
      schema: {
        operationId: 'createTireSize',
        summary: 'Record a tire size',
        description:
          'Records the diameter of a size; from then on every tire computation of the instance uses it, after the built-in table and before any formula.',
        tags,
        security,
        headers: CreateHeaders,
        body: ROW,
        response: {
          201: made(SavedTireSize, 'The row.'),
          ...problems(400, 401, 403, 409, 413, 415, 422, 429, 503),
        },
      },
    },
    async (request, reply) => {
      const done = await tireSizes.create(
        sharerOf(request),
        tireSizeInput(request.body),
        keepFor(request, createdAnswer),
      )
      if (done.outcome === 'taken') throw taken(done.id)
      await sizes.refresh()
      return sendAnswer(reply, createdAnswer(done.tireSize))
    },
  )

  app.get(
    '/v1/tire-sizes',
    {
      schema: {
        operationId: 'listTireSizes',
        summary: 'Tire sizes that users recorded',
        description: 'In the order of recording, in pages; or the row of one size.',
        tags,
        querystring: TireSizeListQuery,
        response: { 200: ref(SavedTireSizeList), ...problems(400, 401, 422, 429, 503) },
      },
    },
    async (request, reply) => {
      const { size, ...asked } = request.query
      const filter =
        size === undefined ? {} : { designation: at('', () => parseTireSize(size), 'query').designation }
      const page = cursors.page(['tire-sizes', filter], asked)
      const { items, next } = await tireSizes.list(filter, page.request)
      return sendText(reply, pageText('tireSizes', items.map(sharedText), page.next(next)))
    },
  )

  app.get(
    '/v1/tire-sizes/export',
    {
      schema: {
        operationId: 'exportTireSizes',
        ...SEARCH,
        summary: 'Tire sizes as a table',
        description: 'Every row that users recorded (RFC 4180).',
        tags,
        response: {
          200: tableAnswer('tire-sizes', COLUMNS),
          ...problems(400, 401, 429, 503),
        },
      },
    },
    (_request, reply) =>
      exportTable(reply, options, {
        name: 'tire-sizes',
        columns: COLUMNS,
        list: (page) => tireSizes.list({}, page),
        rowsOf: (row) => [tireSizeRow(row)],
      }),
  )

  await tableScope(app, options, (scope) => {
    scope.post(
      '/v1/tire-sizes/import',
      {
        bodyLimit: TABLE_BYTES,
        schema: {
          operationId: 'importTireSizes',
          ...LONG,
          summary: 'Record tire sizes from a table',
          description:
            'Records the sizes of a table, all or none unless partial is asked for. A row with the id and version of an export replaces that row when it is still at that version, so a table with the column version must have every column.',
          tags,
          security,
          consumes: ['text/csv'],
          headers: CreateHeaders,
          querystring: ImportQuery,
          body: TableText(COLUMNS, EXAMPLE_TABLE),
          response: { 200: ref(ImportAnswer), ...problems(400, 401, 403, 409, 413, 415, 422, 429, 503) },
        },
      },
      (request, reply) => {
        return importTable(request, reply, options, request.query, {
          records: readTireSizeTable(request.body),
          schema: ROW,
          inputOf: (value) => tireSizeInput(value as TireSizeShape),
          store: async (...args) => {
            const outcomes = await tireSizes.import(...args)
            await sizes.refresh()
            return outcomes
          },
        })
      },
    )
  })

  app.get(
    '/v1/tire-sizes/:id',
    {
      schema: {
        operationId: 'getTireSize',
        summary: 'A tire size that a user recorded',
        description: 'The row as it was given, with its version and who recorded it.',
        tags,
        params: TireSizeParams,
        headers: ReadHeaders,
        response: {
          200: shown(SavedTireSize, 'The row.'),
          304: UNCHANGED,
          ...problems(400, 401, 404, 429, 503),
        },
      },
    },
    async (request, reply) => {
      const row = await tireSizes.read(request.params.id)
      if (row === undefined) throw noRow()
      return sendUnlessUnchanged(request, reply, row.version, () => sendShared(reply, row))
    },
  )

  app.put(
    '/v1/tire-sizes/:id',
    {
      schema: {
        operationId: 'replaceTireSize',
        summary: 'Replace a tire size',
        description: 'Puts a whole row in the place of the one there; what was there stays in the record.',
        tags,
        security,
        params: TireSizeParams,
        headers: ChangeHeaders,
        body: ROW,
        response: {
          200: shown(SavedTireSize, 'The row.'),
          ...problems(400, 401, 403, 404, 409, 412, 413, 415, 422, 428, 429, 503),
        },
      },
    },
    async (request, reply) => {
      const input = tireSizeInput(request.body)
      const versions = requireIfMatch(request.headers)
      const done = await tireSizes.replace(sharerOf(request), request.params.id, versions, input)
      if (done.outcome === 'taken') throw taken(done.id)
      if (done.outcome !== 'replaced') throw notChanged(done, 'tire size row', request.headers)
      await sizes.refresh()
      return sendShared(reply, done.tireSize)
    },
  )

  app.delete(
    '/v1/tire-sizes/:id',
    {
      schema: {
        operationId: 'deleteTireSize',
        summary: 'Delete a tire size',
        description: 'Computations no longer use it; the record keeps it.',
        tags,
        security,
        params: TireSizeParams,
        headers: ChangeHeaders,
        response: {
          204: gone('It is gone.'),
          ...problems(400, 401, 403, 404, 412, 428, 429, 503),
        },
      },
    },
    async (request, reply) => {
      const versions = requireIfMatch(request.headers)
      const done = await tireSizes.remove(sharerOf(request), request.params.id, versions)
      if (done.outcome !== 'removed') throw notChanged(done, 'tire size row', request.headers)
      await sizes.refresh()
      return reply.code(204).send()
    },
  )
}
