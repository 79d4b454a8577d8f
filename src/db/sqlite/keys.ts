import { hash, randomBytes } from 'node:crypto'
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

interface KnownKey {
  readonly verdict: KeyVerdict & { readonly valid: true }
  readonly expiresAtMs: number
  readonly isRevoked: boolean
  lastUsedAtMs: number
}

const MAX_KNOWN = 10_000

/** Shortest time between two recorded uses of a key. */
const USE_STEP_MS = 60_000

/** The prefix lets a scanner for leaked secrets recognize a key. */
const PREFIX = 'wtd_'
const SECRET = /^wtd_[A-Za-z0-9_-]{43}$/

const COLUMNS =
  'keys.id, account_id, accounts.name AS account_name, label, role, keys.created_at_ms, expires_at_ms, revoked_at_ms, last_used_at_ms'
const FROM = 'FROM keys JOIN accounts ON accounts.id = keys.account_id'

const hashOf = (secret: string) => hash('sha256', secret)

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
  const accountIdOf = db.prepare<[string], string>('SELECT id FROM accounts WHERE name = ?').pluck()
  const accounts = db.prepare<[], number>('SELECT count(*) FROM accounts').pluck()
  const insert = db.prepare(
    'INSERT INTO keys (id, account_id, label, role, hash, created_at_ms, expires_at_ms) VALUES (?, ?, ?, ?, ?, ?, ?)',
  )
  const byId = db.prepare<[string], Row>(`SELECT ${COLUMNS} ${FROM} WHERE keys.id = ?`)
  const all = db.prepare<[], Row>(
    `SELECT ${COLUMNS} ${FROM} ORDER BY accounts.name, keys.created_at_ms, keys.id`,
  )
  const revokeRow = db.prepare('UPDATE keys SET revoked_at_ms = ? WHERE id = ? AND revoked_at_ms IS NULL')
  const byHash = db.prepare<[string], Omit<Row, 'account_name'>>('SELECT * FROM keys WHERE hash = ?')
  // Cache of verified keys, so that most requests need no query. It is cleared by changes of other processes and by
  // changes of keys in this one.
  const knownKeys = new Map<string, KnownKey>()
  let knownAtVersion: number | undefined
  const use = db.prepare('UPDATE keys SET last_used_at_ms = ? WHERE id = ?')

  function issue(actor: string, { account, label, role, expiresAtMs }: KeyRequest): IssuedKey | undefined {
    const owner = accountIdOf.get(account)
    if (owner === undefined) return undefined
    const id = uuidv7()
    const secret = PREFIX + randomBytes(32).toString('base64url')
    insert.run(id, owner, label, role, hashOf(secret), nowMs(), expiresAtMs ?? null)
    const detail = { label, role, ...(expiresAtMs === undefined ? {} : { expiresAtMs }) }
    audit({ actor, action: 'key-created', accountId: owner, keyId: id, detail })
    return { record: recordOf(byId.get(id)!), secret }
  }

  function find(secret: string): KnownKey | undefined {
    const row = SECRET.test(secret) ? byHash.get(hashOf(secret)) : undefined
    if (row === undefined) return undefined
    const { id: keyId, account_id: accountId, role } = row
    return {
      verdict: { valid: true, caller: { keyId, accountId, role } },
      expiresAtMs: row.expires_at_ms ?? Number.POSITIVE_INFINITY,
      isRevoked: row.revoked_at_ms !== null,
      lastUsedAtMs: row.last_used_at_ms ?? Number.NEGATIVE_INFINITY,
    }
  }

  function known(secret: string): KnownKey | undefined {
    const version = session.changesElsewhere()
    if (version !== knownAtVersion) {
      knownKeys.clear()
      knownAtVersion = version
    }
    let key = knownKeys.get(secret)
    if (key === undefined) {
      key = find(secret)
      if (knownKeys.size >= MAX_KNOWN) knownKeys.clear()
      if (key !== undefined) knownKeys.set(secret, key)
    }
    return key
  }

  function verify(secret: string): KeyVerdict {
    const key = known(secret)
    if (key === undefined) return { valid: false, reason: 'unknown' }
    if (key.isRevoked) return { valid: false, reason: 'revoked' }
    const atMs = nowMs()
    if (key.expiresAtMs <= atMs) return { valid: false, reason: 'expired' }
    if (atMs - key.lastUsedAtMs >= USE_STEP_MS) {
      key.lastUsedAtMs = atMs
      // Not awaited: the request must not fail if the use cannot be recorded.
      session.write(() => use.run(atMs, key.verdict.caller.keyId)).catch(() => undefined)
    }
    return key.verdict
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
        knownKeys.clear()
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
    verify: (secret) => session.read(() => verify(secret)),
  }
}
