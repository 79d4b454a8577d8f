import { randomBytes } from 'node:crypto'
import type { Database } from 'better-sqlite3'
import { uuidv7 } from 'uuidv7'

/** Gives a new database its id and its secret. */
export function makeInstance(db: Database, nowMs: number): void {
  db.prepare(
    'INSERT INTO instance (one, id, cursor_secret, created_at_ms) VALUES (1, ?, ?, ?) ON CONFLICT DO NOTHING',
  ).run(uuidv7(), randomBytes(32), nowMs)
}
