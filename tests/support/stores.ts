import { join } from 'node:path'
import { openSqliteStore } from '../../src/db/sqlite/sqlite-store.js'
import type { Clock, Store } from '../../src/db/store.js'
import { tempFolder } from './temp.js'

export interface Implementation {
  readonly name: string
  /** An empty store; `reopen` gives the same one after a close. */
  open(clock: Clock): { store: Store; reopen(): Store }
}

/** The implementations that the store tests run against: a new one is a row here. */
export const IMPLEMENTATIONS: readonly Implementation[] = [
  {
    name: 'SQLite',
    open(clock) {
      const file = join(tempFolder(), 'store.sqlite')
      const open = () => openSqliteStore({ file, clock })
      return { store: open(), reopen: open }
    },
  },
]

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
