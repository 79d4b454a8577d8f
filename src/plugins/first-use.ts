import type { FastifyInstance } from 'fastify'

declare module 'fastify' {
  interface FastifyInstance {
    /**
     * Compiles every schema that is not compiled yet; a start leaves each to its first use.
     *
     * @throws {Error} on the first one that is wrong
     */
    compileSchemas(): void
  }
}

/** Makes a function that is compiled when it is first called. */
export type AtFirstUse = <T, R>(compile: () => (value: T) => R) => (value: T) => R

/** What compiles schemas at their first use: most of a start would otherwise go into schemas of which few are asked for soon. */
export function registerFirstUse(app: FastifyInstance): AtFirstUse {
  const compilations: Array<() => void> = []
  app.decorate('compileSchemas', () => {
    for (const compile of compilations) compile()
  })
  return <T, R>(compile: () => (value: T) => R) => {
    let compiled: ((value: T) => R) | undefined
    const once = (): ((value: T) => R) => {
      compiled ??= compile()
      return compiled
    }
    compilations.push(once)
    return (value: T) => once()(value)
  }
}
