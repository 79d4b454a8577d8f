import type {
  FastifyInstance,
  FastifyReply,
  FastifyRequest,
  onRequestHookHandler,
  RouteOptions,
} from 'fastify'
import type { Caller, Role, Store } from '../db/store.js'
import { nothingAt, RequestProblem } from '../http/request-problem.js'
import type { Peers } from '../processes/peers.js'
import { networkOf } from './client-network.js'
import { RateCounter } from './rate-counter.js'
import { shareCounts, sharedNowMs } from './shared-rates.js'

declare module 'fastify' {
  interface FastifyRequest {
    /** The caller identified by the key of the request; undefined without a key. */
    caller: Caller | undefined
  }
  interface FastifyContextConfig {
    /** Minimum role for the route; left out: reader for GET, editor for the rest. */
    role?: Role
    /** No rate limit, and a key that the route does not need is ignored: for monitoring. */
    unlimited?: boolean
  }
}

export interface AccessOptions {
  readonly store: Store
  /** The other processes of the service, which count the same callers. */
  readonly peers: Peers
  /** Requests per minute of one address without a key, and of one key, each counted by its weight; 0: no limit. */
  readonly ratePerAddress: number
  readonly ratePerKey: number
}

const WINDOW_MS = 60_000

/** Responses to a key are stored by no shared cache, and revalidated on each use (RFC 9111, 5.2.2). */
const PRIVATE = 'private, no-cache'

const RANK: Readonly<Record<Role, number>> = { reader: 1, editor: 2, admin: 3 }

const challenge = (error?: string) => ({
  'www-authenticate': `Bearer realm="wheel-to-dial"${error === undefined ? '' : `, error="${error}"`}`,
})

const MALFORMED = { valid: false, reason: 'malformed' } as const

const INVALID: Readonly<Record<'malformed' | 'unknown' | 'expired' | 'revoked', string>> = {
  malformed: 'Authorization takes the form: Bearer, a space, the key.',
  unknown: 'The service does not know this key; leave Authorization out for calculations.',
  expired: 'The key has expired.',
  revoked: 'The key was revoked.',
}

const secretOf = (header: string): string | undefined => /^Bearer +(\S+) *$/i.exec(header)?.[1]

const COUNTED_BY = { address: 'one address without a key', key: 'one key' }

/** Weight of a request in the rate limit, as documented in the contract. */
const weightOf = (schema: unknown): number =>
  (schema as { 'x-rate-weight'?: number } | undefined)?.['x-rate-weight'] ?? 1

/** Makes the rate limit of requests of one weight: counts them, adds the headers, and refuses those over the limit. */
function limiter(app: FastifyInstance, peers: Peers, policy: keyof typeof COUNTED_BY, limit: number) {
  if (limit === 0) return () => () => undefined
  const counter = new RateCounter(limit, WINDOW_MS)
  shareCounts(app, peers, `rates by ${policy}`, counter)
  return (wanted: number) => {
    // At least one request per minute is allowed, whatever its weight.
    const weight = Math.min(wanted, limit)
    const counts = weight === 1 ? '' : `;weight=${weight}`
    const quota = `"${policy}";q=${limit};w=${WINDOW_MS / 1000}${counts}`
    const all = `${limit} requests a minute of ${COUNTED_BY[policy]}`
    const told =
      weight === 1 ? `More than ${all}` : `This one counts for ${weight} of the ${all}, and fewer are left`
    return (name: string, reply: FastifyReply): void => {
      const { exceeded, remaining, resetS } = counter.count(name, sharedNowMs(), weight)
      reply.header('ratelimit-policy', quota).header('ratelimit', `"${policy}";r=${remaining};t=${resetS}`)
      if (!exceeded) return
      throw new RequestProblem('rate-limited', `${told}; go on in ${resetS} s.`, [], {
        'retry-after': String(resetS),
      })
    }
  }
}

/**
 * Authenticates callers by their key and limits their rate: by key if a valid one is given, otherwise by address.
 * A route needs a key if its schema says so (`security`), so the contract states what is enforced. Register before the routes.
 */
export function registerAccess(app: FastifyInstance, options: AccessOptions): void {
  const { store, peers } = options
  const addresses = limiter(app, peers, 'address', options.ratePerAddress)
  const keys = limiter(app, peers, 'key', options.ratePerKey)
  const addressLimit = (weight: number) => {
    const count = addresses(weight)
    return (request: FastifyRequest, reply: FastifyReply) => count(networkOf(request.ip), reply)
  }
  const limitOnce = addressLimit(1)

  /** Identifies the caller by the key of the request. @throws {RequestProblem} if the key is not valid */
  async function identify(header: string, request: FastifyRequest, reply: FastifyReply): Promise<Caller> {
    const secret = secretOf(header)
    const verdict = secret === undefined ? MALFORMED : await store.keys.verify(secret)
    if (verdict.valid) return verdict.caller
    // A guessed key counts against the limit of the address.
    limitOnce(request, reply)
    throw new RequestProblem('key-not-valid', INVALID[verdict.reason], [], challenge('invalid_token'))
  }

  /**
   * Makes the access check of a route, once per route, to keep the cost of each request low. Without a key the check is synchronous:
   * a promise would cost each calculation.
   */
  function guard({ schema, config, method }: RouteOptions): onRequestHookHandler | undefined {
    const needsKey = (schema as { security?: unknown } | undefined)?.security !== undefined
    const unlimited = config?.unlimited === true
    if (unlimited && !needsKey) return undefined
    const reads = [method].flat().every((one) => one === 'GET' || one === 'HEAD')
    const weight = weightOf(schema)
    const limitAddress = addressLimit(weight)
    const countKey = keys(weight)
    const minRole = config?.role ?? (reads ? 'reader' : 'editor')

    function admit(caller: Caller, request: FastifyRequest, reply: FastifyReply): void {
      request.caller = caller
      if (!unlimited) countKey(caller.keyId, reply)
      if (!needsKey || RANK[caller.role] >= RANK[minRole]) return
      throw new RequestProblem(
        'insufficient-role',
        `This needs a key of role ${minRole}; this key is a ${caller.role}'s.`,
        [],
        challenge('insufficient_scope'),
      )
    }

    return (request, reply, done) => {
      const header = request.headers.authorization
      if (needsKey || header !== undefined) reply.header('cache-control', PRIVATE)
      if (header !== undefined) {
        identify(header, request, reply)
          .then((caller) => admit(caller, request, reply))
          .then(() => done(), done)
        return
      }
      if (!unlimited) limitAddress(request, reply)
      if (!needsKey) return done()
      throw new RequestProblem(
        'key-required',
        'This needs a key: Authorization: Bearer, a space, the key.',
        [],
        challenge(),
      )
    }
  }

  app.decorateRequest('caller', undefined)
  const guarded = new WeakSet<object>()
  app.addHook('onRoute', (route) => {
    const hooks = [route.onRequest ?? []].flat()
    // The HEAD route that the framework adds for a GET route already has its hooks.
    if (hooks.some((hook) => guarded.has(hook))) return
    const hook = guard(route)
    if (hook === undefined) return
    guarded.add(hook)
    route.onRequest = [hook, ...hooks]
  })
  app.addHook('onRequest', (request, reply, done) => {
    // Requests that match no route count, too: they must not bypass the limit.
    if (request.is404) limitOnce(request, reply)
    // The router matches a trailing slash as an empty parameter.
    for (const name in request.params as object) {
      if ((request.params as Record<string, string>)[name] === '') return done(nothingAt(request))
    }
    done()
  })
}
