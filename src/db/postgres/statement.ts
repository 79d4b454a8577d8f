import type { Value, Values } from '../units/session.js'

/** A statement with numbered parameters, prepared by each connection under its name at the first use. */
export interface Statement {
  readonly name: string
  readonly text: string
  valuesOf(given: Values): readonly Value[]
}

let statements = 0

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
      if (names.length === 0) return given as readonly Value[]
      const [values] = given as readonly [Readonly<Record<string, Value>>]
      return names.map((name) => values[name]!)
    },
  }
}
