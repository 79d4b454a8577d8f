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
export type LazyCompile = <T, R>(compile: () => (value: T) => R) => (value: T) => R

function once<T>(make: () => T): () => T {
  let made: T | undefined
  return () => {
    made ??= make()
    return made
  }
}

/** Compiles at the first use, in a thread that has no application. */
export const lazyCompile: LazyCompile = (compile) => {
  const compiled = once(compile)
  return (value) => compiled()(value)
}

/** What compiles schemas at their first use: most of a start would otherwise go into schemas of which few are asked for soon. */
export function registerLazyCompile(app: FastifyInstance): LazyCompile {
  const compilations: Array<() => void> = []
  app.decorate('compileSchemas', () => {
    for (const compile of compilations) compile()
  })
  return <T, R>(compile: () => (value: T) => R) => {
    const compiled = once(compile)
    compilations.push(compiled)
    return (value: T) => compiled()(value)
  }
}
