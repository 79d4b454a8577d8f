import type { Statement } from 'better-sqlite3'
import type { Session } from './session.js'

/** Cache of prepared statements whose SQL depends on the request. */
export function preparer<Row>({ db }: Session) {
  const statements = new Map<string, Statement<[Record<string, unknown>], Row>>()
  return (sql: string): Statement<[Record<string, unknown>], Row> => {
    let statement = statements.get(sql)
    if (statement === undefined) {
      statement = db.prepare<[Record<string, unknown>], Row>(sql)
      statements.set(sql, statement)
    }
    return statement
  }
}
