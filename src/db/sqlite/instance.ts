import { randomBytes } from 'node:crypto'
import { uuidv7 } from 'uuidv7'
import type { InstanceStore } from '../store/instance.js'
import type { Session } from './session.js'

export function sqliteInstance({ db, nowMs, read }: Session): InstanceStore {
  db.prepare(
    'INSERT INTO instance (one, id, cursor_secret, created_at_ms) VALUES (1, ?, ?, ?) ON CONFLICT DO NOTHING',
  ).run(uuidv7(), randomBytes(32), nowMs())
  const secret = db.prepare<[], Buffer>('SELECT cursor_secret FROM instance').pluck()
  return { cursorSecret: () => read(() => secret.get()!) }
}
