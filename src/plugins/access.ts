import rateLimit, { normalizeIP } from '@fastify/rate-limit'
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { RequestProblem } from '../border/request-problem.js'
import type { Caller, Role, Store } from '../db/store.js'

declare module 'fastify' {
  interface FastifyRequest {
    /** Whom the key of the request stands for; undefined when it has none. */
    caller: Caller | undefined
  }
  interface FastifyContextConfig {
    /** Least role for the route; left out: reader for GET, editor for the rest. */
    role?: Role
    /** Not counted against any rate: for whoever watches the service. */
    unlimited?: boolean
  }
}

export interface AccessOptions {
  readonly store: Store
  /** Requests a minute of one address without a key, and of one key; 0: no limit. */
  readonly ratePerAddress: number
  readonly ratePerKey: number
}

const WINDOW_MS = 60_000

const RANK: Readonly<Record<Role, number>> = { reader: 1, editor: 2, admin: 3 }

/** A route needs a key when its part of the contract says so: what is documented is what is enforced. */
const needsKey = (request: FastifyRequest) =>
  (request.routeOptions.schema as { security?: readonly unknown[] } | undefined)?.security !== undefined

const leastRole = ({ routeOptions, method }: FastifyRequest): Role =>
  routeOptions.config.role ?? (method === 'GET' || method === 'HEAD' ? 'reader' : 'editor')

const challenge = (error?: string) => ({
  'www-authenticate': `Bearer realm="wheel-to-dial"${error === undefined ? '' : `, error="${error}"`}`,
})

const INVALID: Readonly<Record<'unknown' | 'expired' | 'revoked', string>> = {
  unknown: 'The key is not one of this instance.',
  expired: 'The key has expired.',
  revoked: 'The key was revoked.',
}

function secretOf(header: string): string {
  const [, secret] = /^Bearer +(\S+) *$/i.exec(header) ?? []
  if (secret === undefined) {
    throw new RequestProblem(
      'key-not-valid',
      'Authorization takes the form: Bearer, a space, the key.',
      [],
      challenge('invalid_request'),
    )
  }
  return secret
}

type Limiter = (request: FastifyRequest, reply: FastifyReply) => Promise<void>

/**
 * Knows callers by their key, and limits their rate: of a key where a valid one is given, else of the address.
 * Register before the routes.
 */
export async function registerAccess(app: FastifyInstance, options: AccessOptions): Promise<void> {
  const { store } = options
  await app.register(rateLimit, { global: false, cache: 20_000 })

  function limiter(policy: string, most: number, keyOf: (request: FastifyRequest) => string): Limiter {
    if (most === 0) return async () => undefined
    const count = app.createRateLimit({ max: most, timeWindow: WINDOW_MS, keyGenerator: keyOf })
    return async (request, reply) => {
      const rate = await count(request)
      if (rate.isAllowed) return
      const { remaining, ttlInSeconds, isExceeded } = rate
      reply.header('ratelimit-policy', `"${policy}";q=${most};w=${WINDOW_MS / 1000}`)
      reply.header('ratelimit', `"${policy}";r=${remaining};t=${ttlInSeconds}`)
      if (!isExceeded) return
      throw new RequestProblem(
        'rate-limited',
        `More than ${most} requests a minute of one ${policy}; go on in ${ttlInSeconds} s.`,
        [],
        { 'retry-after': String(ttlInSeconds) },
      )
    }
  }
  const limitAddress = limiter('address', options.ratePerAddress, ({ ip }) => normalizeIP(ip))
  const limitKey = limiter('key', options.ratePerKey, ({ caller }) => caller!.keyId)

  app.decorateRequest('caller', undefined)
  app.addHook('onRequest', async (request, reply) => {
    const { unlimited } = request.routeOptions.config
    const header = request.headers.authorization
    if (header === undefined) {
      if (unlimited !== true) await limitAddress(request, reply)
      if (!needsKey(request)) return
      throw new RequestProblem(
        'key-required',
        'This needs a key: Authorization: Bearer, a space, the key.',
        [],
        challenge(),
      )
    }
    const verdict = await store.keys.verify(secretOf(header))
    if (!verdict.valid) {
      // Guesses count against the address.
      await limitAddress(request, reply)
      throw new RequestProblem('key-not-valid', INVALID[verdict.reason], [], challenge('invalid_token'))
    }
    request.caller = verdict.caller
    if (unlimited !== true) await limitKey(request, reply)
    if (!needsKey(request)) return
    const least = leastRole(request)
    if (RANK[verdict.caller.role] < RANK[least]) {
      throw new RequestProblem(
        'role-too-low',
        `This needs a key of role ${least}; this key is a ${verdict.caller.role}'s.`,
        [],
        challenge('insufficient_scope'),
      )
    }
  })
}
