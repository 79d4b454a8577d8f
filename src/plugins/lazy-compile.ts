import type { FastifyInstance } from 'fastify'

declare module 'fastify' {
  interface FastifyInstance {
    /**
     * Compiles every schema that is not compiled yet; normally each is compiled at its first use.
     *
     * @throws {Error} for the first schema that is invalid
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

/** Compiles at the first use, in a worker thread, which has no application. */
export const lazyCompile: LazyCompile = (compile) => {
  const compiled = once(compile)
  return (value) => compiled()(value)
}

/** Makes the function that compiles schemas at their first use: to compile all of them would take most of a start. */
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
