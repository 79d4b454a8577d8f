import { boltCircleOut, candidatesOut, probesFor } from '../border/candidates.js'
import { requireIfMatch } from '../border/conditions.js'
import { PART_TABLE, partInput, partOf, partRevisionText, partRows, readPartTable } from '../border/parts.js'
import { RequestProblem } from '../border/request-problem.js'
import { pageText } from '../border/saved-vehicles.js'
import { notChanged, sharedText } from '../border/shared.js'
import { ref } from '../schemas/measures.js'
import {
  BoltCircleAnswer,
  BoltCircleRequest,
  CandidateAnswer,
  CandidateQuery,
  PartInput,
  PartListQuery,
  PartParams,
  PartPatch,
  PartRevisionList,
  PartRevisionQuery,
  type PartShape,
  SavedPart,
  SavedPartList,
} from '../schemas/parts.js'
import { calculationProblems, problems } from '../schemas/problems.js'
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
import { patched } from './checked.js'
import { keepFor, sendAnswer, sendText, sendUnlessUnchanged, sharerOf } from './keep.js'
import { sendShared, sharedCreated } from './kept-shared.js'
import type { App, RouteOptions } from './options.js'
import { exportTable, importTable, tableAnswer, tableScope } from './tables.js'

const tags = ['parts']
const security = KEY_NEEDED

/** One schema object, so that its validator is compiled once. */
const PART = ref(PartInput)

const COLUMNS = PART_TABLE.map(({ name }) => name)

const EXAMPLE_TABLE = `kind,name,teeth,interface,gender,form,sizeMm,thread
driven-gear,"Driven gear, 21 teeth",21,shaft,male,round,11.1,
,,,thread,male,,,7/8-18
`

/** Number of nearest parts compared for each interface, per candidate of the answer. */
const NEAR_PER_CANDIDATE = 2

const noPart = () => new RequestProblem('not-found', 'There is no such part.')

const createdAnswer = sharedCreated('/v1/parts')

interface ListQuery {
  readonly kind?: string
  readonly maker?: string
  readonly text?: string
  readonly bolts?: number
  readonly circleDiameter?: number
  readonly tolerance?: number
}

function filterOf({ bolts, circleDiameter, tolerance = 0.5, ...filter }: ListQuery) {
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
  return { ...filter, interface: { key: `bolt-circle/${bolts}`, minM, maxM } }
}

export async function partRoutes(app: App, options: RouteOptions): Promise<void> {
  const { cursors } = options
  const { parts } = options.store

  app.post(
    '/v1/parts/bolt-circle',
    {
      schema: {
        operationId: 'computeBoltCircle',
        summary: 'Bolt circle from a chord',
        description:
          'Diameter of the circle through evenly spaced holes, from the distance between two of them: for measurements if no hole is opposite another.',
        tags,
        body: ref(BoltCircleRequest),
        response: { 200: ref(BoltCircleAnswer), ...calculationProblems() },
      },
    },
    (request) => boltCircleOut(request.body),
  )

  app.post(
    '/v1/parts',
    {
      schema: {
        operationId: 'createPart',
        summary: 'Record a part',
        description: 'Records a part for all accounts of the service.',
        tags,
        security,
        headers: CreateHeaders,
        body: PART,
        response: {
          201: made(SavedPart, 'The part.'),
          ...problems(400, 401, 403, 409, 413, 415, 422, 429, 503),
        },
      },
    },
    async (request, reply) => {
      const part = await parts.create(
        sharerOf(request),
        partInput(request.body),
        keepFor(request, createdAnswer),
      )
      return sendAnswer(reply, createdAnswer(part))
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
        response: { 200: ref(SavedPartList), ...problems(400, 401, 429, 503) },
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

  app.get(
    '/v1/parts/export',
    {
      schema: {
        operationId: 'exportParts',
        ...SEARCH,
        summary: 'Parts as a table',
        description:
          'All parts as CSV (RFC 4180), to edit in a spreadsheet and import again: each further interface of a part has its own row, with the id of the part and its other part columns empty.',
        tags,
        response: {
          200: tableAnswer('parts', COLUMNS),
          ...problems(400, 401, 429, 503),
        },
      },
    },
    (_request, reply) =>
      exportTable(reply, options, {
        name: 'parts',
        columns: COLUMNS,
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
          ...LONG,
          summary: 'Record parts from a table',
          description:
            'Records the parts of a table, all or none unless partial is set. A row with the id and version of an export replaces that part if it is still at that version, so a table with the column version must have every column; a row without id is a new part. A row with empty part columns is a further interface of the part above it and must have its id, or none if that has none.',
          tags,
          security,
          consumes: ['text/csv'],
          headers: CreateHeaders,
          querystring: ImportQuery,
          body: TableText(COLUMNS, EXAMPLE_TABLE),
          response: { 200: ref(ImportAnswer), ...problems(400, 401, 403, 409, 413, 415, 422, 429, 503) },
        },
      },
      (request, reply) =>
        importTable(request, reply, options, request.query, {
          records: readPartTable(request.body),
          schema: PART,
          inputOf: (value) => partInput(value as PartShape),
          store: parts.import,
        }),
    )
  })

  app.get(
    '/v1/parts/:id',
    {
      schema: {
        operationId: 'getPart',
        summary: 'Get a part',
        description: 'The part as recorded, with its version and who recorded it.',
        tags,
        params: PartParams,
        headers: ReadHeaders,
        response: {
          200: shown(SavedPart, 'The part.'),
          304: UNCHANGED,
          ...problems(400, 401, 404, 429, 503),
        },
      },
    },
    async (request, reply) => {
      const part = await parts.read(request.params.id)
      if (part === undefined) throw noPart()
      return sendUnlessUnchanged(request, reply, part.version, () => sendShared(reply, part))
    },
  )

  app.put(
    '/v1/parts/:id',
    {
      schema: {
        operationId: 'replacePart',
        summary: 'Replace a part',
        description: 'Replaces the whole part; the previous state is kept as a revision.',
        tags,
        security,
        params: PartParams,
        headers: ChangeHeaders,
        body: PART,
        response: {
          200: shown(SavedPart, 'The part.'),
          ...problems(400, 401, 403, 404, 412, 413, 415, 422, 428, 429, 503),
        },
      },
    },
    async (request, reply) => {
      const input = partInput(request.body)
      const versions = requireIfMatch(request.headers)
      const done = await parts.replace(sharerOf(request), request.params.id, versions, () => input)
      if (done.outcome !== 'replaced') throw notChanged(done, 'part', request.headers)
      return sendShared(reply, done.part)
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
        security,
        consumes: ['application/merge-patch+json', 'application/json'],
        params: PartParams,
        headers: ChangeHeaders,
        body: ref(PartPatch),
        response: {
          200: shown(SavedPart, 'The part.'),
          ...problems(400, 401, 403, 404, 412, 413, 415, 422, 428, 429, 503),
        },
      },
    },
    async (request, reply) => {
      const versions = requireIfMatch(request.headers)
      const done = await parts.replace(sharerOf(request), request.params.id, versions, (current) =>
        partInput(patched(request, PART, partOf(current)) as PartShape),
      )
      if (done.outcome !== 'replaced') throw notChanged(done, 'part', request.headers)
      return sendShared(reply, done.part)
    },
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
        security,
        params: PartParams,
        headers: ChangeHeaders,
        response: {
          204: gone('It is deleted.'),
          ...problems(400, 401, 403, 404, 409, 412, 428, 429, 503),
        },
      },
    },
    async (request, reply) => {
      const versions = requireIfMatch(request.headers)
      const done = await parts.remove(sharerOf(request), request.params.id, versions)
      if (done.outcome === 'in-use') {
        throw new RequestProblem('part-in-use', `There are ${done.reports} fit reports about this part.`)
      }
      if (done.outcome !== 'removed') throw notChanged(done, 'part', request.headers)
      return reply.code(204).send()
    },
  )

  app.get(
    '/v1/parts/:id/candidates',
    {
      schema: {
        operationId: 'findPartCandidates',
        summary: 'Parts that may fit a part',
        description:
          'Parts with an interface that mates with or matches one of this part within the tolerance, with the compared dimensions and their deviations. A candidate is not proven.',
        tags,
        params: PartParams,
        querystring: CandidateQuery,
        response: { 200: ref(CandidateAnswer), ...problems(400, 401, 404, 429, 503) },
      },
    },
    async (request) => {
      const { tolerance = 0.5, limit = 50 } = request.query
      const part = await parts.read(request.params.id)
      if (part === undefined) throw noPart()
      const toleranceM = tolerance / 1000
      const near = await parts.near(part.id, probesFor(part, toleranceM), NEAR_PER_CANDIDATE * limit)
      return candidatesOut(part, near, toleranceM, limit)
    },
  )

  app.get(
    '/v1/parts/:id/revisions',
    {
      schema: {
        operationId: 'listPartRevisions',
        summary: 'Revisions of a part',
        description:
          'Every state with its author and time, newest first, paginated; also for a deleted part.',
        tags,
        params: PartParams,
        querystring: PartRevisionQuery,
        response: { 200: ref(PartRevisionList), ...problems(400, 401, 404, 429, 503) },
      },
    },
    async (request, reply) => {
      const page = cursors.page(['part revisions', request.params.id], request.query)
      const found = await parts.revisions(request.params.id, page.request)
      if (found === undefined) throw noPart()
      return sendText(reply, pageText('revisions', found.items.map(partRevisionText), page.next(found.next)))
    },
  )
}
