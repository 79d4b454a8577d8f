import type { FastifyInstance, HTTPMethods } from 'fastify'
import { RequestProblem } from '../http/request-problem.js'

/** Collects the methods of each URL while routes are added; call before the first route. */
export function collectMethods(app: FastifyInstance): ReadonlyMap<string, ReadonlySet<string>> {
  const methods = new Map<string, Set<string>>()
  app.addHook('onRoute', ({ url, method }) => {
    const known = methods.get(url) ?? new Set()
    for (const one of [method].flat()) known.add(one)
    methods.set(url, known)
  })
  return methods
}

/**
 * Answers every other method of a known URL with 405 and Allow; call after the last route.
 *
 * In onRequest, before the body is parsed: an unsupported media type would otherwise hide the 405.
 */
export function answerMethodNotAllowed(
  app: FastifyInstance,
  methods: ReadonlyMap<string, ReadonlySet<string>>,
): void {
  for (const [url, known] of methods) {
    // Copied, since the routes added below run the collecting hook again.
    const allow = [...new Set([...known, 'OPTIONS'])].sort().join(', ')
    const others = app.supportedMethods.filter((method) => method !== 'OPTIONS' && !known.has(method))
    if (others.length > 0) {
      app.route({
        method: others as HTTPMethods[],
        url,
        schema: { hide: true },
        exposeHeadRoute: false,
        onRequest: (request, _reply, done) => {
          done(
            new RequestProblem(
              'method-not-allowed',
              `${request.method} is not allowed at this URL; use ${allow}.`,
              [],
              { allow },
            ),
          )
        },
        handler: () => undefined,
      })
    }
    if (!known.has('OPTIONS')) {
      app.options(url, { schema: { hide: true } }, (_request, reply) =>
        reply.code(204).header('allow', allow).send(),
      )
    }
  }
}
