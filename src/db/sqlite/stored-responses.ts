import { StoreError } from '../store/errors.js'
import type { SaveResponse, StoredResponseStore } from '../store/stored-responses.js'
import type { Session } from './session.js'

interface Row {
  readonly fingerprint: Buffer
  readonly status: number
  readonly headers: string
  readonly body: string
}

/** How long a response is stored [ms]. */
const RETENTION_MS = 24 * 3600 * 1000

/** Expired rows deleted for each new row, so that the table does not grow without limit. */
const SWEEP = 10

/** Stores the response of a unit of work. Call inside it, after its change. */
export function responseSaver({ db, nowMs }: Session) {
  const sweep = db.prepare(
    `DELETE FROM kept_answers WHERE rowid IN
       (SELECT rowid FROM kept_answers WHERE kept_at_ms <= ? ORDER BY kept_at_ms LIMIT ${SWEEP})`,
  )
  const insert = db.prepare(
    `INSERT INTO kept_answers (account_id, idempotency_key, fingerprint, status, headers, body, kept_at_ms)
     VALUES (?, ?, ?, ?, ?, ?, ?)
     ON CONFLICT (account_id, idempotency_key) DO UPDATE
       SET fingerprint = excluded.fingerprint, status = excluded.status, headers = excluded.headers,
           body = excluded.body, kept_at_ms = excluded.kept_at_ms
       WHERE kept_answers.kept_at_ms <= ?`,
  )
  return <T>(accountId: string, save: SaveResponse<T> | undefined, made: T): void => {
    if (save === undefined) return
    const { status, headers, body } = save.answer(made)
    const atMs = nowMs()
    const { changes } = insert.run(
      accountId,
      save.key,
      save.fingerprint,
      status,
      JSON.stringify(headers),
      body,
      atMs,
      atMs - RETENTION_MS,
    )
    if (changes === 0)
      throw new StoreError('stored-meanwhile', 'a request with this key was answered meanwhile')
    sweep.run(atMs - RETENTION_MS)
  }
}

export function sqliteStoredResponses({ db, nowMs, read }: Session): StoredResponseStore {
  const find = db.prepare<[string, string, number], Row>(
    `SELECT fingerprint, status, headers, body FROM kept_answers
      WHERE account_id = ? AND idempotency_key = ? AND kept_at_ms > ?`,
  )
  return {
    find: (accountId, key) =>
      read(() => {
        const row = find.get(accountId, key, nowMs() - RETENTION_MS)
        if (row === undefined) return undefined
        const { fingerprint, status, headers, body } = row
        return { fingerprint, answer: { status, headers: JSON.parse(headers), body } }
      }),
  }
}
