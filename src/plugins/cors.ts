import cors from '@fastify/cors'
import type { FastifyInstance } from 'fastify'
import { nothingAt } from '../border/request-problem.js'
import { REQUEST_ID } from './request-ids.js'

/** Origins whose pages may read answers. */
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

/** Makes the headers by which a page of an origin may read an answer, for those answers that no hook comes to. */
export function leaveToRead(origins: Origins) {
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

export type LeaveToRead = ReturnType<typeof leaveToRead>

/**
 * Lets pages of the listed origins read answers. Register it before every other hook: a page may read a failure only when
 * this has run before what failed.
 */
export async function registerCors(app: FastifyInstance, origins: Origins): Promise<void> {
  if (origins.length === 0) return
  await app.register(cors, {
    origin: origins === '*' ? '*' : [...origins],
    methods: ['GET', 'HEAD', 'POST', 'PUT', 'PATCH', 'DELETE'],
    exposedHeaders: EXPOSED,
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
