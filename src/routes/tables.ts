import { isUtf8 } from 'node:buffer'
import { Readable } from 'node:stream'
import { type TSchema, Type } from '@sinclair/typebox'
import type { FastifyReply, FastifyRequest } from 'fastify'
import { writeCsv } from '../border/csv.js'
import { RequestProblem } from '../border/request-problem.js'
import { importOut, refusedRows, type TableRecord, tableNotStored, validRows } from '../border/tables.js'
import type {
  ImportItem,
  ImportOptions,
  ImportOutcome,
  Keep,
  KeptAnswer,
  Page,
  PageRequest,
  Sharer,
} from '../db/store.js'
import { checker } from './checked.js'
import { keepFor, sendAnswer, sharerOf } from './keep.js'
import type { App, RouteOptions } from './options.js'

export interface TableImport<Input> {
  readonly records: readonly TableRecord[]
  /** Schema of a record's value, one object for all requests so that its validator is compiled once. */
  readonly schema: TSchema
  readonly inputOf: (value: unknown) => Input
  readonly store: (
    author: Sharer,
    items: readonly ImportItem<Input>[],
    options: ImportOptions,
    keep: Keep<readonly ImportOutcome[]> | undefined,
  ) => Promise<readonly ImportOutcome[]>
}

/**
 * Adds routes that take a table, in a scope of their own: nowhere else is text/csv taken for one. The tables of a caller are stored one after the other: the
 * 5000 rows of one take some ten MiB until they are.
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

/** Stores a table, or says what is wrong with it. */
export async function importTable<Input>(
  request: FastifyRequest,
  reply: FastifyReply,
  { nextTurn }: RouteOptions,
  { dryRun = false, partial = false }: { dryRun?: boolean; partial?: boolean },
  { records, schema, inputOf, store }: TableImport<Input>,
) {
  const problemOf = checker(request, schema)
  const faultsOf = (value: unknown) => problemOf(value)?.errors ?? []
  const { rows, faults } = await validRows(records, faultsOf, inputOf, nextTurn)
  if (faults.length > 0 && !partial && !dryRun) throw tableNotStored(faults)
  const answer = (outcomes: readonly ImportOutcome[]): KeptAnswer => ({
    status: 200,
    headers: {},
    body: JSON.stringify(importOut(rows, outcomes, faults, dryRun)),
  })
  const outcomes = await store(
    sharerOf(request),
    rows.map(({ item }) => item),
    { dryRun, partial },
    keepFor(request, answer),
  )
  const refused = refusedRows(rows, outcomes)
  if (refused.length > 0 && !partial && !dryRun) throw tableNotStored(refused)
  return sendAnswer(reply, answer(outcomes))
}

/** The answer of `exportTable`. */
export const tableAnswer = (name: string, columns: readonly string[]) => ({
  description: 'The table.',
  headers: {
    'content-disposition': Type.String({
      pattern: `^attachment; filename="${name}\\.csv"$`,
      description: 'Name of the file.',
    }),
  },
  content: {
    'text/csv': { schema: { type: 'string', description: `Columns: ${columns.join(', ')}.` } },
  },
})

/** Things that are read from the store at a time. */
const BATCH = 50

/** Text that is sent at one go [characters]. */
const CHUNK = 65_536

export interface TableExport<Item> {
  readonly name: string
  readonly columns: readonly string[]
  readonly list: (page: PageRequest) => Promise<Page<Item>>
  readonly rowsOf: (item: Item) => string[][]
}

/**
 * Sends a whole list as a table, as it is read, in turns with all else; what cannot be read at all is refused before anything is
 * sent.
 */
export async function exportTable<Item>(
  reply: FastifyReply,
  { nextTurn }: RouteOptions,
  { name, columns, list, rowsOf }: TableExport<Item>,
) {
  const first = await list({ limit: BATCH })
  async function* chunks() {
    let text = writeCsv([columns])
    let rows: string[][] = []
    let turn = await nextTurn()
    for (let page = first; ; ) {
      for (const item of page.items) {
        rows.push(...rowsOf(item))
        if (!turn.isOver()) continue
        text += writeCsv(rows)
        rows = []
        if (text.length >= CHUNK) {
          yield text
          text = ''
        }
        turn = await nextTurn()
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
