import { hash, randomBytes } from 'node:crypto'
import { uuidv7 } from 'uuidv7'
import type { IssuedKey, KeyRecord, KeyRequest, KeyStore, KeyVerdict, Role } from '../store/keys.js'
import { accountMaker } from './accounts.js'
import { auditor } from './audit.js'
import type { Session, Unit } from './session.js'

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

export function keyStore(session: Session): KeyStore {
  const { nowMs } = session
  const audit = auditor(session)
  const makeAccount = accountMaker(session)
  const accountIdOf = session.prepare<{ id: string }>('SELECT id FROM accounts WHERE name = ?')
  // A unit that makes the first key changes this row, so that another one at the same time runs again.
  const claimInstance = session.prepare('UPDATE instance SET one = one')
  const anyAccount = session.prepare<{ id: string }>('SELECT id FROM accounts LIMIT 1')
  const insert = session.prepare(
    'INSERT INTO keys (id, account_id, label, role, hash, created_at_ms, expires_at_ms) VALUES (?, ?, ?, ?, ?, ?, ?)',
  )
  const byId = session.prepare<Row>(`SELECT ${COLUMNS} ${FROM} WHERE keys.id = ?`)
  const all = session.prepare<Row>(
    `SELECT ${COLUMNS} ${FROM} ORDER BY accounts.name, keys.created_at_ms, keys.id`,
  )
  const revokeRow = session.prepare(
    'UPDATE keys SET revoked_at_ms = ? WHERE id = ? AND revoked_at_ms IS NULL',
  )
  const byHash = session.prepare<Omit<Row, 'account_name'>>('SELECT * FROM keys WHERE hash = ?')
  // Verified keys, so that most requests need no query; cleared by revocations in this process. A revocation elsewhere takes effect at
  // once: a database that does not report it at once is asked each time.
  const knownKeys = session.memory<KnownKey | undefined>({
    max: MAX_KNOWN,
    isClearedByOwnWrites: false,
    maxAgeMs: 0,
  })
  const use = session.prepare(
    'UPDATE keys SET last_used_at_ms = ? WHERE id = ? AND (last_used_at_ms IS NULL OR last_used_at_ms <= ?)',
  )

  const noteUse = session.write((keyId: string, atMs: number) => use.run(atMs, keyId, atMs - USE_STEP_MS))

  function* issue(
    actor: string,
    { account, label, role, expiresAtMs }: KeyRequest,
  ): Unit<IssuedKey | undefined> {
    const owner = (yield* accountIdOf.get(account))?.id
    if (owner === undefined) return undefined
    const id = uuidv7()
    const secret = PREFIX + randomBytes(32).toString('base64url')
    yield* insert.run(id, owner, label, role, hashOf(secret), nowMs(), expiresAtMs ?? null)
    const detail = { label, role, ...(expiresAtMs === undefined ? {} : { expiresAtMs }) }
    yield* audit({ actor, action: 'key-created', accountId: owner, keyId: id, detail })
    return { record: recordOf((yield* byId.get(id))!), secret }
  }

  function* find(secret: string): Unit<KnownKey | undefined> {
    const row = SECRET.test(secret) ? yield* byHash.get(hashOf(secret)) : undefined
    if (row === undefined) return undefined
    const { id: keyId, account_id: accountId, role } = row
    return {
      verdict: { valid: true, caller: { keyId, accountId, role } },
      expiresAtMs: row.expires_at_ms ?? Number.POSITIVE_INFINITY,
      isRevoked: row.revoked_at_ms !== null,
      lastUsedAtMs: row.last_used_at_ms ?? Number.NEGATIVE_INFINITY,
    }
  }

  function* verify(secret: string): Unit<KeyVerdict> {
    const key = yield* knownKeys.get(secret, () => find(secret))
    if (key === undefined) return { valid: false, reason: 'unknown' }
    if (key.isRevoked) return { valid: false, reason: 'revoked' }
    const atMs = nowMs()
    if (key.expiresAtMs <= atMs) return { valid: false, reason: 'expired' }
    if (atMs - key.lastUsedAtMs >= USE_STEP_MS) {
      key.lastUsedAtMs = atMs
      // Not awaited: the request must not fail if the use cannot be recorded.
      noteUse(key.verdict.caller.keyId, atMs).catch(() => undefined)
    }
    return key.verdict
  }

  return {
    create: session.write(issue),
    createFirst: session.write(function* (actor, account, label) {
      yield* claimInstance.run()
      if ((yield* anyAccount.get()) !== undefined) return undefined
      yield* makeAccount(actor, account)
      return yield* issue(actor, { account, label, role: 'admin' })
    }),
    list: session.read(function* () {
      return (yield* all.all()).map(recordOf)
    }),
    revoke: session.write(function* (actor, id) {
      knownKeys.clear()
      const revoked = (yield* revokeRow.count(nowMs(), id)) === 1
      const row = yield* byId.get(id)
      if (row === undefined) return undefined
      if (revoked)
        yield* audit({
          actor,
          action: 'key-revoked',
          accountId: row.account_id,
          keyId: id,
          detail: { label: row.label },
        })
      return recordOf(row)
    }),
    verify: session.read(verify),
  }
}
