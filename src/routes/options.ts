import type { TypeBoxTypeProvider } from '@fastify/type-provider-typebox'
import type {
  FastifyBaseLogger,
  FastifyInstance,
  RawReplyDefaultExpression,
  RawRequestDefaultExpression,
  RawServerDefault,
} from 'fastify'
import type { Cursors } from '../border/cursors.js'
import type { RunJob } from '../border/jobs.js'
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
  /** Runs long computations in threads of their own. */
  readonly runJob: RunJob
}
