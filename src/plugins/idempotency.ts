import { createHash } from 'node:crypto'
import type { FastifyInstance, FastifyReply, FastifyRequest, RouteOptions } from 'fastify'
import { RequestProblem } from '../border/request-problem.js'
import type { Store } from '../db/store.js'

declare module 'fastify' {
  interface FastifyRequest {
    /** The Idempotency-Key of the request and what it stands for; undefined when it has none. */
    repeatable: { readonly key: string; readonly fingerprint: Uint8Array } | undefined
  }
}

const HEADER = 'idempotency-key'

/** A route takes the header when its part of the contract names it. */
const takesKey = ({ schema }: RouteOptions) => {
  const headers = schema?.headers as { properties?: object } | undefined
  return headers?.properties !== undefined && HEADER in headers.properties
}

/** What a request asks for: the same key with anything else is another request. */
function fingerprintOf({ method, url, headers, body }: FastifyRequest): Uint8Array {
  const hash = createHash('sha256')
  return hash.update(JSON.stringify([method, url, headers['content-type'], body])).digest()
}

/**
 * Repeated requests: one with an Idempotency-Key that was answered is answered the same again, without doing
 * anything. The answer is kept by the store, in the transaction of the change.
 */
export function registerIdempotency(app: FastifyInstance, store: Store): void {
  /** Keys whose first request is not yet answered, by account. */
  const inFlight = new Set<string>()
  const held = new WeakMap<FastifyRequest, string>()
  const letGo = async (request: FastifyRequest) => {
    const name = held.get(request)
    if (name !== undefined) inFlight.delete(name)
    held.delete(request)
  }

  async function answerAgain(request: FastifyRequest, reply: FastifyReply): Promise<unknown> {
    const key = request.headers[HEADER]
    if (typeof key !== 'string' || request.caller === undefined) return
    const { accountId } = request.caller
    const name = `${accountId} ${key}`
    if (inFlight.has(name)) {
      throw new RequestProblem(
        'request-in-flight',
        'The first request with this Idempotency-Key is still being answered; ask again.',
        [],
        { 'retry-after': '1' },
      )
    }
    inFlight.add(name)
    held.set(request, name)
    const fingerprint = fingerprintOf(request)
    const kept = await store.storedResponses.find(accountId, key)
    if (kept === undefined) {
      request.repeatable = { key, fingerprint }
      return
    }
    if (!Buffer.from(kept.fingerprint).equals(fingerprint)) {
      throw new RequestProblem(
        'idempotency-key-reused',
        'This Idempotency-Key was used for another request; take a new one for each request.',
        [{ in: 'header', pointer: `#/${HEADER}`, code: 'reused', detail: 'was used for another request' }],
      )
    }
    const { status, headers, body } = kept.answer
    return reply
      .code(status)
      .headers(headers)
      .header('content-type', 'application/json; charset=utf-8')
      .header('idempotency-replayed', 'true')
      .send(body)
  }

  app.decorateRequest('repeatable', undefined)
  app.addHook('onRoute', (route) => {
    if (!takesKey(route)) return
    // On these routes alone: a hook after the answer is dear, and reads have no use for it.
    route.preHandler = [...[route.preHandler ?? []].flat(), answerAgain]
    route.onResponse = [...[route.onResponse ?? []].flat(), letGo]
    route.onRequestAbort = [...[route.onRequestAbort ?? []].flat(), letGo]
  })
}
