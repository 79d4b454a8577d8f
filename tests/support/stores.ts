import { join } from 'node:path'
import { openPostgresStore } from '../../src/db/postgres/postgres-store.js'
import { openSqliteStore } from '../../src/db/sqlite/sqlite-store.js'
import type { Clock, Store } from '../../src/db/store.js'
import { postgresPrograms } from './postgres.js'
import { clusterOfFile } from './postgres-cluster.js'
import { tempFolder } from './temp.js'

export interface Implementation {
  readonly name: string
  /** An empty store; `reopen` gives the same one after a close. */
  open(clock: Clock): Promise<{ store: Store; reopen(): Promise<Store> }>
}

const SQLITE: Implementation = {
  name: 'SQLite',
  async open(clock) {
    const file = join(tempFolder(), 'store.sqlite')
    const open = async () => openSqliteStore({ file, clock })
    return { store: await open(), reopen: open }
  },
}

const POSTGRES: Implementation = {
  name: 'PostgreSQL',
  async open(clock) {
    const url = await (await clusterOfFile()).database()
    const open = () => openPostgresStore({ url, clock })
    return { store: await open(), reopen: open }
  },
}

/** The implementations that the store tests run against; PostgreSQL only where there is a server. */
export const IMPLEMENTATIONS: readonly Implementation[] =
  postgresPrograms === undefined ? [SQLITE] : [SQLITE, POSTGRES]

/** A clock that stands still until it is moved. */
export function handClock(startMs = Date.UTC(2026, 0, 2, 3, 4, 5)) {
  let nowMs = startMs
  const clock = () => nowMs
  return Object.assign(clock, {
    advance(ms: number) {
      nowMs += ms
    },
  })
}
