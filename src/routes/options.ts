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
import type { Batch } from '../border/batches.js'
import type { Cursors } from '../border/cursors.js'
import type { Jobs } from '../border/jobs.js'
import type { ReadJson } from '../border/raw-body.js'
import type { NextTurn } from '../border/tables.js'
import type { Clock, Store } from '../db/store.js'
import type { SizeTable } from '../domain/tires/size-table.js'

/** The application as routes see it: request and answer types come from the TypeBox schemas. */
export type App = FastifyInstance<
  RawServerDefault,
  RawRequestDefaultExpression,
  RawReplyDefaultExpression,
  FastifyBaseLogger,
  TypeBoxTypeProvider
>

/** What routes are given. */
export interface RouteOptions {
  /** Finds tire sizes that no formula covers. */
  readonly sizeTable: SizeTable
  /** Everything that is kept. */
  readonly store: Store
  readonly clock: Clock
  /** Writes and reads the cursors of lists. */
  readonly cursors: Cursors
  /**
   * Runs a long computation in a thread of its own, until its caller leaves. @returns The bytes of its answer
   * @throws {RequestProblem} when too many wait, of all callers or of this one
   */
  runJob<J extends keyof Jobs>(request: FastifyRequest, job: J, input: Jobs[J]['takes']): Promise<Buffer>
  /** Gives the routes of a scope bodies of these media types as they came, and what reads those of JSON. */
  takeRaw(scope: FastifyInstance, mediaTypes: readonly string[]): void
  readonly readJson: ReadJson
  /** Waits until a request is the only one of its caller that is done by this. */
  oneOfCaller(request: FastifyRequest, reply: FastifyReply): Promise<void>
  /** For work that is long and done bit by bit. */
  readonly nextTurn: NextTurn
}

/** What routes of batches are given beside. */
export interface Batches {
  /** Answers a batch as a stream. @throws {RequestProblem} when too many run */
  answerBatch(request: FastifyRequest, reply: FastifyReply, batch: Batch): void
  /** Lets the routes of a scope take lines of JSON. */
  takeLines(scope: FastifyInstance): void
  /** What a failure says to the caller. */
  problemOf(error: unknown, request: FastifyRequest): object
}
