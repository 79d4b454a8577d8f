import cors from '@fastify/cors'
import type { FastifyInstance } from 'fastify'
import { nothingAt } from './problems.js'

/**
 * Lets pages of the listed origins read answers. Register it before every other hook: a page may read a failure only when
 * this has run before what failed.
 */
export async function registerCors(app: FastifyInstance, origins: readonly string[] | '*'): Promise<void> {
  if (origins.length === 0) return
  await app.register(cors, {
    origin: origins === '*' ? '*' : [...origins],
    methods: ['GET', 'HEAD', 'POST', 'PUT', 'PATCH', 'DELETE'],
    exposedHeaders: [
      'etag',
      'location',
      'ratelimit',
      'ratelimit-policy',
      'retry-after',
      'idempotency-replayed',
    ],
    maxAge: 600,
    strictPreflight: false,
    // So that the address itself answers, with its Allow.
    preflightContinue: true,
  })
  // The plugin has a route for OPTIONS of every address, and would say that what is not there has options.
  app.addHook('onRequest', (request, _reply, done) => {
    done(request.method === 'OPTIONS' && request.routeOptions.url === '*' ? nothingAt(request) : undefined)
  })
}
