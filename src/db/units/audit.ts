import type { Session, Unit } from './session.js'

export interface AuditRow {
  readonly actor: string
  readonly action: string
  readonly accountId: string
  readonly keyId?: string
  readonly detail: Readonly<Record<string, unknown>>
}

/** Makes the part of a unit of work that records who did what in the audit log. */
export function auditor({ prepare, nowMs }: Session) {
  const insert = prepare(
    'INSERT INTO audit (at_ms, actor, action, account_id, key_id, detail) VALUES (?, ?, ?, ?, ?, ?)',
  )
  return ({ actor, action, accountId, keyId, detail }: AuditRow): Unit<void> =>
    insert.run(nowMs(), actor, action, accountId, keyId ?? null, JSON.stringify(detail))
}
