import type { Client, Pool, PoolConfig } from 'pg'
import { OpenError } from '../open-error.js'
import { migrate } from './migrations.js'

/** Maximum number of connections of one process. */
const CONNECTIONS = 16

/** Maximum time for a statement [ms]; then the server cancels it. */
const STATEMENT_TIMEOUT_MS = 10_000
/** Maximum time for the answer of the server [ms]; then the connection is closed. */
const ANSWER_TIMEOUT_MS = 15_000
/** Maximum time for a new connection [ms]. */
const CONNECT_TIMEOUT_MS = 2_000

const INT8 = 20

/**
 * The statements are written to walk an index in the order that is asked for. With these settings a new database, which has no statistics,
 * does so, too, and does not read whole tables.
 */
const PLANNING = [
  'enable_seqscan=off',
  'enable_hashjoin=off',
  'enable_mergejoin=off',
  'enable_bitmapscan=off',
  // Compiling a statement takes longer than running it.
  'jit=off',
]

/** The settings that durability depends on. */
async function assertDurable(client: Client, name: string): Promise<void> {
  const { rows } = await client.query<{ commit: string; sync: string }>(
    "SELECT current_setting('synchronous_commit') AS commit, current_setting('fsync') AS sync",
  )
  const { commit, sync } = rows[0]!
  if (commit === 'off' || sync === 'off') {
    throw new OpenError(
      'not-durable',
      `${name} acknowledges commits that are not on the disk: synchronous_commit is ${commit} and fsync is ${sync}. Set both to on.`,
    )
  }
}

/**
 * Connects to a database and migrates it to the newest schema version.
 *
 * @throws {OpenError} if it cannot be reached, is of another program or newer, or is not durable; it is not changed then
 */
export async function openPool(url: string, nowMs: number): Promise<Pool> {
  // Imported here, so that a start with SQLite does not wait for it.
  const { default: pg } = await import('pg')
  const config: PoolConfig = {
    connectionString: url,
    application_name: 'wheel-to-dial',
    max: CONNECTIONS,
    connectionTimeoutMillis: CONNECT_TIMEOUT_MS,
    statement_timeout: STATEMENT_TIMEOUT_MS,
    query_timeout: ANSWER_TIMEOUT_MS,
    idle_in_transaction_session_timeout: ANSWER_TIMEOUT_MS,
    keepAlive: true,
    pipeline: true,
    options: PLANNING.map((setting) => `-c ${setting}`).join(' '),
    types: {
      // Numbers of rows and milliseconds are within the safe integers: every column has a CHECK.
      getTypeParser: (type: number, format?: 'text' | 'binary') =>
        type === INT8 ? Number : pg.types.getTypeParser(type, format),
    },
  }
  // Migrations may take long.
  const client = new pg.Client({ ...config, statement_timeout: 0, query_timeout: 0 })
  const name = `the PostgreSQL database ${client.database} on ${client.host}`
  try {
    await client.connect()
  } catch (cause) {
    throw new OpenError('cannot-open', `${name} cannot be reached: ${(cause as Error).message}.`, { cause })
  }
  try {
    await assertDurable(client, name)
    await migrate(client, name, nowMs)
  } finally {
    await client.end()
  }
  const pool = new pg.Pool(config)
  // A connection broke: its statements fail, and the pool replaces it. Without a listener the process would end.
  pool.on('error', () => undefined)
  pool.on('connect', (one) => one.on('error', () => undefined))
  return pool
}
