import { StoreError } from '../store/errors.js'
import type { SaveResponse, StoredResponseStore } from '../store/stored-responses.js'
import type { Session, Unit } from './session.js'

interface Row {
  readonly fingerprint: Uint8Array
  readonly status: number
  readonly headers: string
  readonly body: string
}

/** How long a response is stored [ms]. */
const RETENTION_MS = 24 * 3600 * 1000

/** Expired rows deleted for each new row, so that the table does not grow without limit. */
const SWEEP = 10

/** Makes the part of a unit of work that stores its response, after its change. */
export function responseSaver({ prepare, nowMs }: Session) {
  const sweep = prepare(
    `DELETE FROM kept_answers WHERE (account_id, idempotency_key) IN
       (SELECT account_id, idempotency_key FROM kept_answers WHERE kept_at_ms <= ? ORDER BY kept_at_ms LIMIT ${SWEEP})`,
  )
  const insert = prepare(
    `INSERT INTO kept_answers (account_id, idempotency_key, fingerprint, status, headers, body, kept_at_ms)
     VALUES (?, ?, ?, ?, ?, ?, ?)
     ON CONFLICT (account_id, idempotency_key) DO UPDATE
       SET fingerprint = excluded.fingerprint, status = excluded.status, headers = excluded.headers,
           body = excluded.body, kept_at_ms = excluded.kept_at_ms
       WHERE kept_answers.kept_at_ms <= ?`,
    { failsIfRepeated: true },
  )
  return function* <T>(accountId: string, save: SaveResponse<T> | undefined, made: T): Unit<void> {
    if (save === undefined) return
    const { status, headers, body } = save.answer(made)
    const atMs = nowMs()
    const stored = yield* insert.count(
      accountId,
      save.key,
      save.fingerprint,
      status,
      JSON.stringify(headers),
      body,
      atMs,
      atMs - RETENTION_MS,
    )
    if (stored === 0)
      throw new StoreError('stored-meanwhile', 'a request with this key was answered meanwhile')
    yield* sweep.run(atMs - RETENTION_MS)
  }
}

export function storedResponseStore({ prepare, nowMs, read }: Session): StoredResponseStore {
  const find = prepare<Row>(
    `SELECT fingerprint, status, headers, body FROM kept_answers
      WHERE account_id = ? AND idempotency_key = ? AND kept_at_ms > ?`,
  )
  return {
    find: read(function* (accountId, key) {
      const row = yield* find.get(accountId, key, nowMs() - RETENTION_MS)
      if (row === undefined) return undefined
      const { fingerprint, status, headers, body } = row
      return { fingerprint, answer: { status, headers: JSON.parse(headers), body } }
    }),
  }
}
