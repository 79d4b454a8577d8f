import type { TypeBoxTypeProvider } from '@fastify/type-provider-typebox'
import type {
  FastifyBaseLogger,
  FastifyInstance,
  FastifyReply,
  FastifyRequest,
  RawReplyDefaultExpression,
  RawRequestDefaultExpression,
  RawServerDefault,
} from 'fastify'
import type { Clock, Store } from '../db/store.js'
import type { SizeTable } from '../domain/tires/size-table.js'
import type { Batch } from '../http/batches.js'
import type { NextSlice } from '../http/csv.js'
import type { Cursors } from '../http/cursors.js'
import type { ReadJson } from '../http/raw-body.js'
import type { Jobs } from './jobs.js'

/** The application as routes see it: request and answer types come from the TypeBox schemas. */
export type App = FastifyInstance<
  RawServerDefault,
  RawRequestDefaultExpression,
  RawReplyDefaultExpression,
  FastifyBaseLogger,
  TypeBoxTypeProvider
>

/** Dependencies of the routes. */
export interface RouteOptions {
  /** Finds tire sizes that no formula covers. */
  readonly sizeTable: SizeTable
  /** The store. */
  readonly store: Store
  readonly clock: Clock
  /** Writes and reads the cursors of lists. */
  readonly cursors: Cursors
  /**
   * Runs a long computation in a worker thread; it ends if the caller disconnects. @returns The answer as bytes
   * @throws {RequestProblem} if too many are waiting, of all callers or of this one
   */
  runJob<J extends keyof Jobs>(request: FastifyRequest, job: J, input: Jobs[J]['takes']): Promise<Buffer>
  /** Passes bodies of one media type to the routes of a scope unparsed; `readJson` parses those of JSON. */
  takeRaw(scope: FastifyInstance, mediaType: string): void
  readonly readJson: ReadJson
  /** Waits until no earlier request of the same caller that awaits this is unanswered. */
  oneOfCaller(request: FastifyRequest, reply: FastifyReply): Promise<void>
  /** Time slices for long work on the main thread. */
  readonly nextSlice: NextSlice
}

/** Further dependencies of the batch routes. */
export interface Batches {
  /** Answers a batch as a stream. @throws {RequestProblem} if too many are running */
  answerBatch(request: FastifyRequest, reply: FastifyReply, batch: Batch): void
  /** Makes the routes of a scope accept NDJSON only. */
  takeLines(scope: FastifyInstance): void
  /** The problem details of an error. */
  problemOf(error: unknown, request: FastifyRequest): object
}
