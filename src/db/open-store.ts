import { openPostgresStore } from './postgres/postgres-store.js'
import { openSqliteStore } from './sqlite/sqlite-store.js'
import type { Clock, Store } from './store.js'

export interface StoreSettings {
  readonly databaseFile: string
  /** Left out: the SQLite file is used. */
  readonly databaseUrl?: string
}

/**
 * Opens the store that the settings name.
 *
 * @throws {OpenError} when it cannot be used, is of another program, or is newer than this one
 */
export async function openStore({ databaseFile, databaseUrl }: StoreSettings, clock: Clock): Promise<Store> {
  return databaseUrl === undefined
    ? openSqliteStore({ file: databaseFile, clock })
    : openPostgresStore({ url: databaseUrl, clock })
}
