import type { Session } from './session.js'

export interface AuditRow {
  readonly actor: string
  readonly action: string
  readonly accountId: string
  readonly keyId?: string
  readonly detail: Readonly<Record<string, unknown>>
}

/** Records who did what in the audit log. Call inside the unit of work that does it. */
export type Audit = (row: AuditRow) => void

export function sqliteAudit({ db, nowMs }: Session): Audit {
  const insert = db.prepare(
    'INSERT INTO audit (at_ms, actor, action, account_id, key_id, detail) VALUES (?, ?, ?, ?, ?, ?)',
  )
  return ({ actor, action, accountId, keyId, detail }) => {
    insert.run(nowMs(), actor, action, accountId, keyId ?? null, JSON.stringify(detail))
  }
}
