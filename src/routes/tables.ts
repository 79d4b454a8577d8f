import { isUtf8 } from 'node:buffer'
import { Readable } from 'node:stream'
import type { TSchema } from '@sinclair/typebox'
import type { FastifyReply, FastifyRequest } from 'fastify'
import { writeCsv } from '../border/csv.js'
import { RequestProblem } from '../border/request-problem.js'
import { importOut, refusedRows, type TableRecord, tableNotStored, validRows } from '../border/tables.js'
import type {
  ImportItem,
  ImportOptions,
  ImportOutcome,
  Page,
  PageRequest,
  SaveResponse,
  SharedAuthor,
  StoredResponse,
} from '../db/store.js'
import type { Table } from '../schemas/tables.js'
import { checker } from './checked.js'
import type { App, RouteOptions } from './options.js'
import { saveFor, sendResponse, sharedAuthorOf } from './stored-responses.js'

export interface TableImport<Input> {
  readonly records: readonly TableRecord[]
  /** Schema of a record's value, one object for all requests so that its validator is compiled once. */
  readonly schema: TSchema
  readonly inputOf: (value: unknown) => Input
  readonly store: (
    author: SharedAuthor,
    items: readonly ImportItem<Input>[],
    options: ImportOptions,
    save: SaveResponse<readonly ImportOutcome[]> | undefined,
  ) => Promise<readonly ImportOutcome[]>
}

/**
 * Adds the routes that import tables, in their own scope, since only they accept text/csv as a table. The tables of a caller are stored one after
 * the other: until then the 5000 rows of one take about ten MiB.
 */
export async function tableScope(
  app: App,
  { oneOfCaller }: RouteOptions,
  addRoutes: (scope: App) => void,
): Promise<void> {
  await app.register(async (scope) => {
    scope.addHook('preHandler', oneOfCaller)
    scope.removeAllContentTypeParsers()
    scope.addContentTypeParser('text/csv', { parseAs: 'buffer' }, (_request, body, done) => {
      if (isUtf8(body as Buffer)) done(null, body.toString('utf8'))
      else done(new RequestProblem('malformed-csv', 'The table is not UTF-8; save it as CSV UTF-8.'))
    })
    scope.addContentTypeParser('*', (_request, _body, done) =>
      done(new RequestProblem('unsupported-media-type', 'Send a table, text/csv in UTF-8.')),
    )
    addRoutes(scope as unknown as App)
  })
}

/** Stores a table, or reports its faults. */
export async function importTable<Input>(
  request: FastifyRequest,
  reply: FastifyReply,
  { nextSlice }: RouteOptions,
  { dryRun = false, partial = false }: { dryRun?: boolean; partial?: boolean },
  { records, schema, inputOf, store }: TableImport<Input>,
) {
  const problemOf = checker(request, schema)
  const faultsOf = (value: unknown) => problemOf(value)?.errors ?? []
  const { rows, faults } = await validRows(records, faultsOf, inputOf, nextSlice)
  if (faults.length > 0 && !partial && !dryRun) throw tableNotStored(faults)
  const answer = (outcomes: readonly ImportOutcome[]): StoredResponse => ({
    status: 200,
    headers: {},
    body: JSON.stringify(importOut(rows, outcomes, faults, dryRun)),
  })
  const outcomes = await store(
    sharedAuthorOf(request),
    rows.map(({ item }) => item),
    { dryRun, partial },
    saveFor(request, answer),
  )
  const refused = refusedRows(rows, outcomes)
  if (refused.length > 0 && !partial && !dryRun) throw tableNotStored(refused)
  return sendResponse(reply, answer(outcomes))
}

/** Records read from the store at a time. */
const BATCH = 50

/** Size of the chunks of the response [characters]. */
const CHUNK = 65_536

export interface TableExport<Item> {
  readonly table: Table
  readonly list: (page: PageRequest) => Promise<Page<Item>>
  readonly rowsOf: (item: Item) => string[][]
}

/**
 * Streams a whole list as a table, in time slices. A failure of the first read is reported before anything is
 * sent.
 */
export async function exportTable<Item>(
  reply: FastifyReply,
  { nextSlice }: RouteOptions,
  { table: { name, columns }, list, rowsOf }: TableExport<Item>,
) {
  const first = await list({ limit: BATCH })
  async function* chunks() {
    let text = writeCsv([columns])
    let rows: string[][] = []
    let slice = await nextSlice()
    for (let page = first; ; ) {
      for (const item of page.items) {
        rows.push(...rowsOf(item))
        if (!slice.isOver()) continue
        text += writeCsv(rows)
        rows = []
        if (text.length >= CHUNK) {
          yield text
          text = ''
        }
        slice = await nextSlice()
      }
      if (page.next === undefined) break
      page = await list({ limit: BATCH, after: page.next })
    }
    yield text + writeCsv(rows)
  }
  return reply
    .header('content-type', 'text/csv; charset=utf-8; header=present')
    .header('content-disposition', `attachment; filename="${name}.csv"`)
    .send(Readable.from(chunks()))
}
