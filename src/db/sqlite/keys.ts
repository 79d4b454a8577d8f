import { createHash, randomBytes } from 'node:crypto'
import { uuidv7 } from 'uuidv7'
import type { IssuedKey, KeyRecord, KeyRequest, KeyStore, KeyVerdict, Role } from '../store/keys.js'
import { accountMaker } from './accounts.js'
import { sqliteAudit } from './audit.js'
import type { Session } from './session.js'

interface Row {
  readonly id: string
  readonly account_id: string
  readonly account_name: string
  readonly label: string
  readonly role: Role
  readonly created_at_ms: number
  readonly expires_at_ms: number | null
  readonly revoked_at_ms: number | null
  readonly last_used_at_ms: number | null
}

/** A use is written down when the last one written is older than this. */
const USE_STEP_MS = 60_000

/** The prefix lets a scanner for leaked secrets know one. */
const PREFIX = 'wtd_'
const SECRET = /^wtd_[A-Za-z0-9_-]{43}$/

const COLUMNS =
  'keys.id, account_id, accounts.name AS account_name, label, role, keys.created_at_ms, expires_at_ms, revoked_at_ms, last_used_at_ms'
const FROM = 'FROM keys JOIN accounts ON accounts.id = keys.account_id'

const hashOf = (secret: string) => createHash('sha256').update(secret).digest()

function recordOf(row: Row): KeyRecord {
  return {
    id: row.id,
    accountId: row.account_id,
    accountName: row.account_name,
    label: row.label,
    role: row.role,
    createdAtMs: row.created_at_ms,
    ...(row.expires_at_ms === null ? {} : { expiresAtMs: row.expires_at_ms }),
    ...(row.revoked_at_ms === null ? {} : { revokedAtMs: row.revoked_at_ms }),
    ...(row.last_used_at_ms === null ? {} : { lastUsedAtMs: row.last_used_at_ms }),
  }
}

export function sqliteKeys(session: Session): KeyStore {
  const { db, nowMs } = session
  const audit = sqliteAudit(session)
  const makeAccount = accountMaker(session)
  const accountId = db.prepare<[string], string>('SELECT id FROM accounts WHERE name = ?').pluck()
  const accounts = db.prepare<[], number>('SELECT count(*) FROM accounts').pluck()
  const insert = db.prepare(
    'INSERT INTO keys (id, account_id, label, role, hash, created_at_ms, expires_at_ms) VALUES (?, ?, ?, ?, ?, ?, ?)',
  )
  const byId = db.prepare<[string], Row>(`SELECT ${COLUMNS} ${FROM} WHERE keys.id = ?`)
  const all = db.prepare<[], Row>(
    `SELECT ${COLUMNS} ${FROM} ORDER BY accounts.name, keys.created_at_ms, keys.id`,
  )
  const revokeRow = db.prepare('UPDATE keys SET revoked_at_ms = ? WHERE id = ? AND revoked_at_ms IS NULL')
  const byHash = db.prepare<[Buffer], Omit<Row, 'account_name'>>('SELECT * FROM keys WHERE hash = ?')
  const use = db.prepare('UPDATE keys SET last_used_at_ms = ? WHERE id = ?')

  function issue(actor: string, { account, label, role, expiresAtMs }: KeyRequest): IssuedKey | undefined {
    const owner = accountId.get(account)
    if (owner === undefined) return undefined
    const id = uuidv7()
    const secret = PREFIX + randomBytes(32).toString('base64url')
    insert.run(id, owner, label, role, hashOf(secret), nowMs(), expiresAtMs ?? null)
    const detail = { label, role, ...(expiresAtMs === undefined ? {} : { expiresAtMs }) }
    audit({ actor, action: 'key-created', accountId: owner, keyId: id, detail })
    return { record: recordOf(byId.get(id)!), secret }
  }

  function noteUse(row: Omit<Row, 'account_name'>, atMs: number): void {
    if (row.last_used_at_ms !== null && atMs - row.last_used_at_ms < USE_STEP_MS) return
    // Beside the request, which must not fail because this note cannot be written.
    session.write(() => use.run(atMs, row.id)).catch(() => undefined)
  }

  return {
    create: (actor, request) => session.write(() => issue(actor, request)),
    createFirst: (actor, account, label) =>
      session.write(() => {
        if (accounts.get() !== 0) return undefined
        makeAccount(actor, account)
        return issue(actor, { account, label, role: 'admin' })
      }),
    list: () => session.read(() => all.all().map(recordOf)),
    revoke: (actor, id) =>
      session.write(() => {
        const revoked = revokeRow.run(nowMs(), id).changes === 1
        const row = byId.get(id)
        if (row === undefined) return undefined
        if (revoked)
          audit({
            actor,
            action: 'key-revoked',
            accountId: row.account_id,
            keyId: id,
            detail: { label: row.label },
          })
        return recordOf(row)
      }),
    verify: (secret) =>
      session.read((): KeyVerdict => {
        const row = SECRET.test(secret) ? byHash.get(hashOf(secret)) : undefined
        if (row === undefined) return { valid: false, reason: 'unknown' }
        const atMs = nowMs()
        if (row.revoked_at_ms !== null) return { valid: false, reason: 'revoked' }
        if (row.expires_at_ms !== null && row.expires_at_ms <= atMs)
          return { valid: false, reason: 'expired' }
        noteUse(row, atMs)
        return { valid: true, caller: { keyId: row.id, accountId: row.account_id, role: row.role } }
      }),
  }
}
