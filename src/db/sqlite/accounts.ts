import { uuidv7 } from 'uuidv7'
import type { Account, AccountStore } from '../store/accounts.js'
import { sqliteAudit } from './audit.js'
import type { Session } from './session.js'

interface Row {
  readonly id: string
  readonly name: string
  readonly created_at_ms: number
}

const accountOf = ({ id, name, created_at_ms }: Row): Account => ({ id, name, createdAtMs: created_at_ms })

/** Makes an account inside a unit of work; undefined when the name is taken. */
export function accountMaker(session: Session) {
  const audit = sqliteAudit(session)
  const insert = session.db.prepare<[string, string, number], Row>(
    'INSERT INTO accounts (id, name, created_at_ms) VALUES (?, ?, ?) ON CONFLICT (name) DO NOTHING RETURNING *',
  )
  return (actor: string, name: string): Account | undefined => {
    const row = insert.get(uuidv7(), name, session.nowMs())
    if (row === undefined) return undefined
    audit({ actor, action: 'account-created', accountId: row.id, detail: { name } })
    return accountOf(row)
  }
}

export function sqliteAccounts(session: Session): AccountStore {
  const make = accountMaker(session)
  const one = session.db.prepare<[string], Row>('SELECT * FROM accounts WHERE id = ?')
  const all = session.db.prepare<[], Row>('SELECT * FROM accounts ORDER BY name')
  return {
    create: (actor, name) => session.write(() => make(actor, name)),
    read: (id) =>
      session.read(() => {
        const row = one.get(id)
        return row === undefined ? undefined : accountOf(row)
      }),
    list: () => session.read(() => all.all().map(accountOf)),
  }
}
