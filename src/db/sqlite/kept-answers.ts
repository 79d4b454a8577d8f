import { StoreError } from '../store/errors.js'
import type { Keep, KeptAnswerStore } from '../store/kept-answers.js'
import type { Session } from './session.js'

interface Row {
  readonly fingerprint: Buffer
  readonly status: number
  readonly headers: string
  readonly body: string
}

/** An answer may be asked for again this long. */
const KEPT_MS = 24 * 3600 * 1000

/** Old rows that one new row takes away: the table cannot grow while it is used. */
const SWEEP = 10

/** Keeps the answer of a unit of work. Call inside it, after its change. */
export function answerKeeper({ db, nowMs }: Session) {
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
  return <T>(accountId: string, keep: Keep<T> | undefined, made: T): void => {
    if (keep === undefined) return
    const { status, headers, body } = keep.answer(made)
    const atMs = nowMs()
    const { changes } = insert.run(
      accountId,
      keep.key,
      keep.fingerprint,
      status,
      JSON.stringify(headers),
      body,
      atMs,
      atMs - KEPT_MS,
    )
    if (changes === 0)
      throw new StoreError('kept-meanwhile', 'a request with this key was answered meanwhile')
    sweep.run(atMs - KEPT_MS)
  }
}

export function sqliteKeptAnswers({ db, nowMs, read }: Session): KeptAnswerStore {
  const find = db.prepare<[string, string, number], Row>(
    `SELECT fingerprint, status, headers, body FROM kept_answers
      WHERE account_id = ? AND idempotency_key = ? AND kept_at_ms > ?`,
  )
  return {
    find: (accountId, key) =>
      read(() => {
        const row = find.get(accountId, key, nowMs() - KEPT_MS)
        if (row === undefined) return undefined
        const { fingerprint, status, headers, body } = row
        return { fingerprint, answer: { status, headers: JSON.parse(headers), body } }
      }),
  }
}
