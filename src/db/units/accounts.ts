import { uuidv7 } from 'uuidv7'
import type { Account, AccountStore } from '../store/accounts.js'
import { auditor } from './audit.js'
import type { Session, Unit } from './session.js'

interface Row {
  readonly id: string
  readonly name: string
  readonly created_at_ms: number
}

const accountOf = ({ id, name, created_at_ms }: Row): Account => ({ id, name, createdAtMs: created_at_ms })

/** Makes an account inside a unit of work; undefined when the name is taken. */
export function accountMaker(session: Session) {
  const audit = auditor(session)
  const insert = session.prepare<Row>(
    'INSERT INTO accounts (id, name, created_at_ms) VALUES (?, ?, ?) ON CONFLICT (name) DO NOTHING RETURNING *',
  )
  return function* (actor: string, name: string): Unit<Account | undefined> {
    const row = yield* insert.get(uuidv7(), name, session.nowMs())
    if (row === undefined) return undefined
    yield* audit({ actor, action: 'account-created', accountId: row.id, detail: { name } })
    return accountOf(row)
  }
}

export function accountStore(session: Session): AccountStore {
  const make = accountMaker(session)
  const one = session.prepare<Row>('SELECT * FROM accounts WHERE id = ?')
  const all = session.prepare<Row>('SELECT * FROM accounts ORDER BY name')
  return {
    create: session.write(make),
    read: session.read(function* (id) {
      const row = yield* one.get(id)
      return row === undefined ? undefined : accountOf(row)
    }),
    list: session.read(function* () {
      return (yield* all.all()).map(accountOf)
    }),
  }
}
