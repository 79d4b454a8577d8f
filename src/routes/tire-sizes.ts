import { withPointer } from '../domain/errors.js'
import { parseTireSize } from '../domain/tires/size.js'
import { requireIfMatch } from '../http/etags.js'
import { RequestProblem } from '../http/request-problem.js'
import { pageText } from '../http/saved-vehicles.js'
import { notChanged, sharedText } from '../http/shared.js'
import { ID_COLUMNS } from '../http/tables.js'
import { readTireSizeTable, TIRE_SIZE_TABLE, tireSizeRow } from '../http/tire-size-table.js'
import { ref } from '../schemas/named-shapes.js'
import { problems } from '../schemas/problems.js'
import { change, creation, reading, removal } from '../schemas/shared-records.js'
import { TABLE_BYTES, tableExport, tableImport } from '../schemas/tables.js'
import {
  SavedTireSize,
  SavedTireSizeList,
  TireSizeInput,
  TireSizeListQuery,
  type TireSizeShape,
} from '../schemas/tire-sizes.js'
import type { App, RouteOptions } from './options.js'
import { saveFor, sendResponse, sendText, sharedAuthorOf } from './stored-responses.js'
import { sendRead, sendShared, sharedCreated } from './stored-shared.js'
import { exportTable, importTable, tableScope } from './tables.js'
import { tireSizeInput } from './tire-size-records.js'

const tags = ['tire-sizes']

/** One schema object, so that its validator is compiled once. */
const ROW = ref(TireSizeInput)

const TABLE = {
  name: 'tire-sizes',
  columns: [...ID_COLUMNS, ...TIRE_SIZE_TABLE].map(({ name }) => name),
  example: `size,overallDiameterMm,sectionWidthMm,construction,source
G78-15,717,208,diagonal,"Measured on four new tires, club stores"
`,
}

const taken = (id: string) =>
  new RequestProblem('tire-size-taken', `The row ${id} has this size.`, [
    { in: 'body', pointer: '#/size', code: 'taken', detail: `is that of the row ${id}` },
  ])

const createdAnswer = sharedCreated('/v1/tire-sizes')

export async function tireSizeRoutes(app: App, options: RouteOptions): Promise<void> {
  listRoutes(app, options)
  await tableRoutes(app, options)
  recordRoutes(app, options)
}

function listRoutes(app: App, { cursors, store: { tireSizes } }: RouteOptions): void {
  app.post(
    '/v1/tire-sizes',
    {
      schema: {
        operationId: 'createTireSize',
        summary: 'Record a tire size',
        description:
          'Records the diameter of a size; from then on every tire computation of the instance uses it, after the built-in table and before any formula.',
        tags,
        ...creation(SavedTireSize, ROW, 'The row.'),
      },
    },
    async (request, reply) => {
      const done = await tireSizes.create(
        sharedAuthorOf(request),
        tireSizeInput(request.body),
        saveFor(request, createdAnswer),
      )
      if (done.outcome === 'taken') throw taken(done.id)
      return sendResponse(reply, createdAnswer(done.tireSize))
    },
  )

  app.get(
    '/v1/tire-sizes',
    {
      schema: {
        operationId: 'listTireSizes',
        summary: 'Tire sizes that users recorded',
        description: 'In the order of recording, in pages. size selects one size.',
        tags,
        querystring: TireSizeListQuery,
        response: { 200: ref(SavedTireSizeList), ...problems(422, 503) },
      },
    },
    async (request, reply) => {
      const { size, ...asked } = request.query
      const filter =
        size === undefined
          ? {}
          : { designation: withPointer('', () => parseTireSize(size), 'query').designation }
      const page = cursors.page(['tire-sizes', filter], asked)
      const { items, next } = await tireSizes.list(filter, page.request)
      return sendText(reply, pageText('tireSizes', items.map(sharedText), page.next(next)))
    },
  )
}

async function tableRoutes(app: App, options: RouteOptions): Promise<void> {
  const { tireSizes } = options.store

  app.get(
    '/v1/tire-sizes/export',
    {
      schema: {
        operationId: 'exportTireSizes',
        summary: 'Tire sizes as a table',
        description: 'Every row that users recorded (RFC 4180).',
        tags,
        ...tableExport(TABLE),
      },
    },
    (_request, reply) =>
      exportTable(reply, options, {
        table: TABLE,
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
          summary: 'Record tire sizes from a table',
          description:
            'Records the sizes of a table, all or none unless partial is set. A row with the id and version of an export replaces that row when it is still at that version, so a table with the column version must have every column.',
          tags,
          ...tableImport(TABLE),
        },
      },
      async (request, reply) =>
        importTable(request, reply, options, request.query, {
          records: await readTireSizeTable(request.body, options.nextSlice),
          schema: ROW,
          inputOf: (value) => tireSizeInput(value as TireSizeShape),
          store: tireSizes.import,
        }),
    )
  })
}

function recordRoutes(app: App, { store: { tireSizes } }: RouteOptions): void {
  app.get(
    '/v1/tire-sizes/:id',
    {
      schema: {
        operationId: 'getTireSize',
        summary: 'A tire size that a user recorded',
        description: 'The row as it was given, with its version and who recorded it.',
        tags,
        ...reading(SavedTireSize, 'The row.'),
      },
    },
    async (request, reply) =>
      sendRead(request, reply, await tireSizes.read(request.params.id), 'tire size row'),
  )

  app.put(
    '/v1/tire-sizes/:id',
    {
      schema: {
        operationId: 'replaceTireSize',
        summary: 'Replace a tire size',
        description: 'Replaces the whole row; its history keeps the previous one.',
        tags,
        ...change(SavedTireSize, ROW, 'The row.', 409),
      },
    },
    async (request, reply) => {
      const input = tireSizeInput(request.body)
      const versions = requireIfMatch(request.headers)
      const done = await tireSizes.replace(sharedAuthorOf(request), request.params.id, versions, input)
      if (done.outcome === 'taken') throw taken(done.id)
      if (done.outcome !== 'replaced') throw notChanged(done, 'tire size row', request.headers)
      return sendShared(reply, done.tireSize)
    },
  )

  app.delete(
    '/v1/tire-sizes/:id',
    {
      schema: {
        operationId: 'deleteTireSize',
        summary: 'Delete a tire size',
        description: 'Computations no longer use it; its history remains.',
        tags,
        ...removal('It is gone.'),
      },
    },
    async (request, reply) => {
      const versions = requireIfMatch(request.headers)
      const done = await tireSizes.remove(sharedAuthorOf(request), request.params.id, versions)
      if (done.outcome !== 'removed') throw notChanged(done, 'tire size row', request.headers)
      return reply.code(204).send()
    },
  )
}
