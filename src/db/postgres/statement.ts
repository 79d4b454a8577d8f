import type { Value, Values } from '../units/session.js'

/** A statement with numbered parameters, prepared by each connection under its name at the first use. */
export interface Statement {
  readonly name: string
  readonly text: string
  valuesOf(given: Values): readonly Value[]
}

let statements = 0

/**
 * A text that PostgreSQL accepts. It has no NUL, which a request may look for; the character in its place is not in any stored text
 * either, because no text of the service holds control characters.
 */
const storable = (value: Value): Value =>
  typeof value === 'string' && value.includes('\0') ? value.replaceAll('\0', '\u0001') : value

/** Numbers the parameters of a statement: `?` or `:name`, not both. */
export function statementOf(sql: string): Statement {
  const names: string[] = []
  let unnamed = 0
  const text = sql.replaceAll(/\?|(?<!:):([a-z]\w*)/gi, (_, name?: string) => {
    if (name === undefined) return `$${++unnamed}`
    if (!names.includes(name)) names.push(name)
    return `$${names.indexOf(name) + 1}`
  })
  return {
    name: `s${++statements}`,
    text,
    valuesOf(given) {
      if (names.length === 0) return (given as readonly Value[]).map(storable)
      const [values] = given as readonly [Readonly<Record<string, Value>>]
      return names.map((name) => storable(values[name]!))
    },
  }
}
