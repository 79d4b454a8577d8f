import type {
  FastifyInstance,
  FastifyReply,
  FastifyRequest,
  onRequestHookHandler,
  RouteOptions,
} from 'fastify'
import { nothingAt, RequestProblem } from '../border/request-problem.js'
import type { Caller, Role, Store } from '../db/store.js'
import { networkOf } from './client-network.js'
import { RateCounter } from './rate-counter.js'

declare module 'fastify' {
  interface FastifyRequest {
    /** Whom the key of the request stands for; undefined when it has none. */
    caller: Caller | undefined
  }
  interface FastifyContextConfig {
    /** Least role for the route; left out: reader for GET, editor for the rest. */
    role?: Role
    /** Not counted against any rate, and a key that it does not need is not looked at: for whoever watches the service. */
    unlimited?: boolean
  }
}

export interface AccessOptions {
  readonly store: Store
  /** Requests a minute of one address without a key, and of one key, each by its weight; 0: no limit. */
  readonly ratePerAddress: number
  readonly ratePerKey: number
}

const WINDOW_MS = 60_000

/** What a key opens is for its holder alone, who asks each time whether it still holds (RFC 9111, 5.2.2). */
const FOR_ONE = 'private, no-cache'

const RANK: Readonly<Record<Role, number>> = { reader: 1, editor: 2, admin: 3 }

const challenge = (error?: string) => ({
  'www-authenticate': `Bearer realm="wheel-to-dial"${error === undefined ? '' : `, error="${error}"`}`,
})

const MALFORMED = { valid: false, reason: 'malformed' } as const

const INVALID: Readonly<Record<'malformed' | 'unknown' | 'expired' | 'revoked', string>> = {
  malformed: 'Authorization takes the form: Bearer, a space, the key.',
  unknown: 'The key is not one of this instance.',
  expired: 'The key has expired.',
  revoked: 'The key was revoked.',
}

const secretOf = (header: string): string | undefined => /^Bearer +(\S+) *$/i.exec(header)?.[1]

const WHAT_COUNTS = { address: 'one address without a key', key: 'one key' }

/** What a request of an operation counts for, as its contract says. */
const weightOf = (schema: unknown): number =>
  (schema as { 'x-rate-weight'?: number } | undefined)?.['x-rate-weight'] ?? 1

/** Makes what counts the requests of one weight, says in the answer what is left, and refuses what is too much. */
function limiter(policy: keyof typeof WHAT_COUNTS, most: number) {
  if (most === 0) return () => () => undefined
  const counter = new RateCounter(most, WINDOW_MS)
  return (wanted: number) => {
    // Whatever it counts for, one a minute is admitted.
    const weight = Math.min(wanted, most)
    const counts = weight === 1 ? '' : `;weight=${weight}`
    const quota = `"${policy}";q=${most};w=${WINDOW_MS / 1000}${counts}`
    const all = `${most} requests a minute of ${WHAT_COUNTS[policy]}`
    const told =
      weight === 1 ? `More than ${all}` : `This one counts for ${weight} of the ${all}, and fewer are left`
    return (name: string, reply: FastifyReply): void => {
      // Not the time of day, which may be set back and would then keep callers out.
      const { exceeded, remaining, resetS } = counter.count(name, performance.now(), weight)
      reply.header('ratelimit-policy', quota).header('ratelimit', `"${policy}";r=${remaining};t=${resetS}`)
      if (!exceeded) return
      throw new RequestProblem('rate-limited', `${told}; go on in ${resetS} s.`, [], {
        'retry-after': String(resetS),
      })
    }
  }
}

/**
 * Knows callers by their key, and limits their rate: of a key where a valid one is given, else of the address.
 * A route needs a key when its part of the contract says so (`security`): what is documented is what is enforced.
 * Register before the routes.
 */
export function registerAccess(app: FastifyInstance, options: AccessOptions): void {
  const { store } = options
  const addresses = limiter('address', options.ratePerAddress)
  const keys = limiter('key', options.ratePerKey)
  const addressLimit = (weight: number) => {
    const count = addresses(weight)
    return (request: FastifyRequest, reply: FastifyReply) => count(networkOf(request.ip), reply)
  }
  const limitOnce = addressLimit(1)

  /** Finds out whom the key of a request stands for. @throws {RequestProblem} when it is not valid */
  async function identify(header: string, request: FastifyRequest, reply: FastifyReply): Promise<Caller> {
    const secret = secretOf(header)
    const verdict = secret === undefined ? MALFORMED : await store.keys.verify(secret)
    if (verdict.valid) return verdict.caller
    // Guesses count against the address.
    limitOnce(request, reply)
    throw new RequestProblem('key-not-valid', INVALID[verdict.reason], [], challenge('invalid_token'))
  }

  /**
   * What is looked at on each request of a route; made once a route, since every request pays for it. Without a key there is
   * nothing to wait for: a promise would cost each calculation.
   */
  function guard({ schema, config, method }: RouteOptions): onRequestHookHandler | undefined {
    const needsKey = (schema as { security?: unknown } | undefined)?.security !== undefined
    const unlimited = config?.unlimited === true
    if (unlimited && !needsKey) return undefined
    const reads = [method].flat().every((one) => one === 'GET' || one === 'HEAD')
    const weight = weightOf(schema)
    const limitAddress = addressLimit(weight)
    const countKey = keys(weight)
    const least = config?.role ?? (reads ? 'reader' : 'editor')

    function admit(caller: Caller, request: FastifyRequest, reply: FastifyReply): void {
      request.caller = caller
      if (!unlimited) countKey(caller.keyId, reply)
      if (!needsKey || RANK[caller.role] >= RANK[least]) return
      throw new RequestProblem(
        'insufficient-role',
        `This needs a key of role ${least}; this key is a ${caller.role}'s.`,
        [],
        challenge('insufficient_scope'),
      )
    }

    return (request, reply, done) => {
      const header = request.headers.authorization
      if (needsKey || header !== undefined) reply.header('cache-control', FOR_ONE)
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
    // The HEAD twin of a GET route comes with the hooks of the GET route.
    if (hooks.some((hook) => guarded.has(hook))) return
    const hook = guard(route)
    if (hook === undefined) return
    guarded.add(hook)
    route.onRequest = [hook, ...hooks]
  })
  app.addHook('onRequest', (request, reply, done) => {
    // Addresses where nothing is are no way around the limit.
    if (request.is404) limitOnce(request, reply)
    // The router takes a slash at the end for an empty parameter.
    for (const name in request.params as object) {
      if ((request.params as Record<string, string>)[name] === '') return done(nothingAt(request))
    }
    done()
  })
}
