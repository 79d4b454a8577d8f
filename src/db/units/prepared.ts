import type { Prepared, Session } from './session.js'

/** Cache of prepared statements whose SQL depends on the request. */
export function preparer<Row>({ prepare }: Session) {
  const statements = new Map<string, Prepared<Row>>()
  return (sql: string): Prepared<Row> => {
    let statement = statements.get(sql)
    if (statement === undefined) {
      statement = prepare<Row>(sql)
      statements.set(sql, statement)
    }
    return statement
  }
}
