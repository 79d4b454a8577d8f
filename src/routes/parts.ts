import type { FastifyReply, FastifyRequest } from 'fastify'
import type { PartRevision, PartStore } from '../db/store.js'
import { boltCircleKey } from '../domain/parts/mating.js'
import { requireIfMatch } from '../http/etags.js'
import { MERGE_PATCH } from '../http/merge-patch.js'
import { PART_TABLE, partRows, readPartTable } from '../http/part-table.js'
import { RequestProblem } from '../http/request-problem.js'
import { pageText } from '../http/saved-vehicles.js'
import { noSuch, notChanged, sharedText } from '../http/shared.js'
import { ref } from '../schemas/named-shapes.js'
import { DEFAULT_TOLERANCE_MM } from '../schemas/part-interfaces.js'
import {
  PartInput,
  PartListQuery,
  PartPatch,
  PartRevisionList,
  PartRevisionQuery,
  type PartShape,
  SavedPart,
  SavedPartList,
} from '../schemas/parts.js'
import { problems } from '../schemas/problems.js'
import { change, creation, RecordParams, reading, removal } from '../schemas/shared-records.js'
import { TABLE_BYTES, tableExport, tableImport } from '../schemas/tables.js'
import { boltCircleRoutes, candidateRoutes } from './candidates.js'
import { patched } from './checked.js'
import type { App, RouteOptions } from './options.js'
import { partInput, partOf } from './part-records.js'
import { saveFor, sendResponse, sendText, sharedAuthorOf } from './stored-responses.js'
import { sendRead, sendShared, sharedCreated } from './stored-shared.js'
import { exportTable, importTable, tableScope } from './tables.js'

const tags = ['parts']

/** One schema object, so that its validator is compiled once. */
const PART = ref(PartInput)

const TABLE = {
  name: 'parts',
  columns: PART_TABLE.map(({ name }) => name),
  example: `kind,name,teeth,interface,gender,form,sizeMm,thread
driven-gear,"Driven gear, 21 teeth",21,shaft,male,round,11.1,
,,,thread,male,,,7/8-18
`,
}

const createdAnswer = sharedCreated('/v1/parts')

interface ListQuery {
  readonly kind?: string
  readonly maker?: string
  readonly text?: string
  readonly bolts?: number
  readonly circleDiameter?: number
  readonly tolerance?: number
}

function filterOf({ bolts, circleDiameter, tolerance = DEFAULT_TOLERANCE_MM, ...filter }: ListQuery) {
  if (bolts === undefined && circleDiameter === undefined) return filter
  if (bolts === undefined || circleDiameter === undefined) {
    const missing = bolts === undefined ? 'bolts' : 'circleDiameter'
    const detail = 'is required: a search by bolt circle needs both bolts and circleDiameter'
    throw new RequestProblem('invalid-request', `query #/${missing} ${detail}`, [
      { in: 'query', pointer: `#/${missing}`, code: 'missing', detail },
    ])
  }
  const minM = (circleDiameter - tolerance) / 1000
  const maxM = (circleDiameter + tolerance) / 1000
  return { ...filter, interface: { key: boltCircleKey(bolts), minM, maxM } }
}

export async function partRoutes(app: App, options: RouteOptions): Promise<void> {
  boltCircleRoutes(app)
  listRoutes(app, options)
  await tableRoutes(app, options)
  recordRoutes(app, options)
  candidateRoutes(app, options)
  revisionRoutes(app, options)
}

function listRoutes(app: App, { cursors, store: { parts } }: RouteOptions): void {
  app.post(
    '/v1/parts',
    {
      schema: {
        operationId: 'createPart',
        summary: 'Record a part',
        description: 'Records a part for all accounts of the service.',
        tags,
        ...creation(SavedPart, PART, 'The part.'),
      },
    },
    async (request, reply) => {
      const part = await parts.create(
        sharedAuthorOf(request),
        partInput(request.body),
        saveFor(request, createdAnswer),
      )
      return sendResponse(reply, createdAnswer(part))
    },
  )

  app.get(
    '/v1/parts',
    {
      schema: {
        operationId: 'listParts',
        summary: 'List parts',
        description: 'Paginated. Filter by kind, maker, words or bolt circle, alone or combined.',
        tags,
        querystring: PartListQuery,
        response: { 200: ref(SavedPartList), ...problems(503) },
      },
    },
    async (request, reply) => {
      const { limit, cursor, ...query } = request.query
      const filter = filterOf(query)
      const page = cursors.page(['parts', filter], { limit, cursor })
      const { items, next } = await parts.list(filter, page.request)
      return sendText(reply, pageText('parts', items.map(sharedText), page.next(next)))
    },
  )
}

async function tableRoutes(app: App, options: RouteOptions): Promise<void> {
  const { parts } = options.store

  app.get(
    '/v1/parts/export',
    {
      schema: {
        operationId: 'exportParts',
        summary: 'Parts as a table',
        description:
          'All parts as CSV (RFC 4180), to edit in a spreadsheet and import again: each further interface of a part has its own row, with the id of the part and its other part columns empty.',
        tags,
        ...tableExport(TABLE),
      },
    },
    (_request, reply) =>
      exportTable(reply, options, {
        table: TABLE,
        list: (page) => parts.list({}, page),
        rowsOf: (stored) => partRows({ id: stored.id, version: stored.version, part: partOf(stored) }),
      }),
  )

  await tableScope(app, options, (scope) => {
    scope.post(
      '/v1/parts/import',
      {
        bodyLimit: TABLE_BYTES,
        schema: {
          operationId: 'importParts',
          summary: 'Record parts from a table',
          description:
            'Records the parts of a table, all or none unless partial is set. A row with the id and version of an export replaces that part if it is still at that version, so a table with the column version must have every column; a row without id is a new part. A row with empty part columns is a further interface of the part above it and must have its id, or none if that has none.',
          tags,
          ...tableImport(TABLE),
        },
      },
      async (request, reply) =>
        importTable(request, reply, options, request.query, {
          records: await readPartTable(request.body, options.nextSlice),
          schema: PART,
          inputOf: (value) => partInput(value as PartShape),
          store: parts.import,
        }),
    )
  })
}

/** Puts what `edit` makes of a part in its place, on the version of If-Match, and shows it. */
async function replacePart(
  parts: PartStore,
  request: FastifyRequest,
  reply: FastifyReply,
  id: string,
  edit: Parameters<PartStore['replace']>[3],
): Promise<FastifyReply> {
  const versions = requireIfMatch(request.headers)
  const done = await parts.replace(sharedAuthorOf(request), id, versions, edit)
  if (done.outcome !== 'replaced') throw notChanged(done, 'part', request.headers)
  return sendShared(reply, done.part)
}

function recordRoutes(app: App, { store: { parts } }: RouteOptions): void {
  app.get(
    '/v1/parts/:id',
    {
      schema: {
        operationId: 'getPart',
        summary: 'Get a part',
        description: 'The part as recorded, with its version and who recorded it.',
        tags,
        ...reading(SavedPart, 'The part.'),
      },
    },
    async (request, reply) => sendRead(request, reply, await parts.read(request.params.id), 'part'),
  )

  app.put(
    '/v1/parts/:id',
    {
      schema: {
        operationId: 'replacePart',
        summary: 'Replace a part',
        description: 'Replaces the whole part; the previous state is stored as a revision.',
        tags,
        ...change(SavedPart, PART, 'The part.'),
      },
    },
    (request, reply) => {
      const input = partInput(request.body)
      return replacePart(parts, request, reply, request.params.id, () => input)
    },
  )

  app.patch(
    '/v1/parts/:id',
    {
      config: { patches: PART },
      schema: {
        operationId: 'changePart',
        summary: 'Change some fields of a part',
        description: 'Applies a merge patch (RFC 7396); the result must be a complete part.',
        tags,
        consumes: [MERGE_PATCH],
        ...change(SavedPart, ref(PartPatch), 'The part.'),
      },
    },
    (request, reply) =>
      replacePart(parts, request, reply, request.params.id, (current) =>
        partInput(patched(request, PART, partOf(current)) as PartShape),
      ),
  )

  app.delete(
    '/v1/parts/:id',
    {
      schema: {
        operationId: 'deletePart',
        summary: 'Delete a part',
        description:
          'Deletes the part unless there are fit reports about it; its revisions can still be read.',
        tags,
        ...removal('Deleted.', 409),
      },
    },
    async (request, reply) => {
      const versions = requireIfMatch(request.headers)
      const done = await parts.remove(sharedAuthorOf(request), request.params.id, versions)
      if (done.outcome === 'in-use') {
        throw new RequestProblem('part-in-use', `There are ${done.reports} fit reports about this part.`)
      }
      if (done.outcome !== 'removed') throw notChanged(done, 'part', request.headers)
      return reply.code(204).send()
    },
  )
}

/** JSON text of a revision: its content is sent as it is, without parsing. */
function revisionText({ version, change, atMs, changedBy, content }: PartRevision): string {
  const text = JSON.stringify({ version, change, at: new Date(atMs).toISOString(), changedBy })
  return content === undefined ? text : `${text.slice(0, -1)},"part":${content}}`
}

function revisionRoutes(app: App, { cursors, store: { parts } }: RouteOptions): void {
  app.get(
    '/v1/parts/:id/revisions',
    {
      schema: {
        operationId: 'listPartRevisions',
        summary: 'Revisions of a part',
        description:
          'Every state with its author and time, newest first, paginated; also for a deleted part.',
        tags,
        params: RecordParams,
        querystring: PartRevisionQuery,
        response: { 200: ref(PartRevisionList), ...problems(503) },
      },
    },
    async (request, reply) => {
      const page = cursors.page(['part revisions', request.params.id], request.query)
      const found = await parts.revisions(request.params.id, page.request)
      if (found === undefined) throw noSuch('part')
      return sendText(reply, pageText('revisions', found.items.map(revisionText), page.next(found.next)))
    },
  )
}
