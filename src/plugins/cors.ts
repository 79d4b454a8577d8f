import cors from '@fastify/cors'
import type { FastifyInstance } from 'fastify'
import { nothingAt } from '../http/request-problem.js'
import { REQUEST_ID } from './request-ids.js'

/** Origins whose pages may read responses. */
export type Origins = readonly string[] | '*'

const EXPOSED = [
  'etag',
  'location',
  'ratelimit',
  'ratelimit-policy',
  'retry-after',
  'idempotency-replayed',
  REQUEST_ID,
]

/** Makes the CORS headers of responses that are sent before or outside the hooks of the framework. */
export function corsHeaders(origins: Origins) {
  return (origin: string | undefined): Record<string, string> => {
    if (origins.length === 0) return {}
    const vary: Record<string, string> = origins === '*' ? {} : { vary: 'Origin' }
    if (origin === undefined || (origins !== '*' && !origins.includes(origin))) return vary
    return {
      ...vary,
      'access-control-allow-origin': origins === '*' ? '*' : origin,
      'access-control-expose-headers': EXPOSED.join(', '),
    }
  }
}

export type CorsHeaders = ReturnType<typeof corsHeaders>

/**
 * Lets pages of the listed origins read responses. Register before every other hook: a page can read a problem only if this hook
 * ran before the one that failed.
 */
export async function registerCors(app: FastifyInstance, origins: Origins): Promise<void> {
  if (origins.length === 0) return
  await app.register(cors, {
    origin: origins === '*' ? '*' : [...origins],
    methods: ['GET', 'HEAD', 'POST', 'PUT', 'PATCH', 'DELETE'],
    exposedHeaders: EXPOSED,
    maxAge: 600,
    strictPreflight: false,
    // The route for OPTIONS answers itself, with Allow.
    preflightContinue: true,
  })
  // The CORS plugin adds a catch-all route for OPTIONS; a path without a route must still be a 404.
  app.addHook('onRequest', (request, _reply, done) => {
    done(request.method === 'OPTIONS' && request.routeOptions.url === '*' ? nothingAt(request) : undefined)
  })
}
