import { createHash } from 'node:crypto'
import type { FastifyInstance, FastifyReply, FastifyRequest, RouteOptions } from 'fastify'
import type { Store } from '../db/store.js'
import { RequestProblem } from '../http/request-problem.js'

declare module 'fastify' {
  interface FastifyRequest {
    /** The Idempotency-Key of the request and the fingerprint of its content; undefined without a key. */
    idempotency: { readonly key: string; readonly fingerprint: Uint8Array } | undefined
  }
}

const HEADER = 'idempotency-key'

/** Whether the schema of a route names the header. */
const acceptsKey = ({ schema }: RouteOptions) => {
  const headers = schema?.headers as { properties?: object } | undefined
  return headers?.properties !== undefined && HEADER in headers.properties
}

/** Hash of what the request does: the same key with another fingerprint is refused. */
function fingerprintOf({ method, url, headers, body }: FastifyRequest): Uint8Array {
  const hash = createHash('sha256')
  return hash.update(JSON.stringify([method, url, headers['content-type'], body])).digest()
}

/**
 * Idempotency: a repeated request with the Idempotency-Key of an earlier one gets the stored response of that one and has no effect.
 * The store saves the response in the transaction of the change.
 */
export function registerIdempotency(app: FastifyInstance, store: Store): void {
  /** Keys of requests in flight, with their account. */
  const inFlight = new Set<string>()
  const locked = new WeakMap<FastifyRequest, string>()
  const unlock = async (request: FastifyRequest) => {
    const name = locked.get(request)
    if (name !== undefined) inFlight.delete(name)
    locked.delete(request)
  }

  async function replay(request: FastifyRequest, reply: FastifyReply): Promise<unknown> {
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
    locked.set(request, name)
    const fingerprint = fingerprintOf(request)
    const stored = await store.storedResponses.find(accountId, key)
    if (stored === undefined) {
      request.idempotency = { key, fingerprint }
      return
    }
    if (!Buffer.from(stored.fingerprint).equals(fingerprint)) {
      throw new RequestProblem(
        'idempotency-key-reused',
        'This Idempotency-Key was used for another request; take a new one for each request.',
        [{ in: 'header', pointer: `#/${HEADER}`, code: 'reused', detail: 'was used for another request' }],
      )
    }
    const { status, headers, body } = stored.answer
    return reply
      .code(status)
      .headers(headers)
      .header('content-type', 'application/json; charset=utf-8')
      .header('idempotency-replayed', 'true')
      .send(body)
  }

  app.decorateRequest('idempotency', undefined)
  app.addHook('onRoute', (route) => {
    if (!acceptsKey(route)) return
    // Only on these routes: a hook after the response is expensive, and reads do not need it.
    route.preHandler = [...[route.preHandler ?? []].flat(), replay]
    route.onResponse = [...[route.onResponse ?? []].flat(), unlock]
    route.onRequestAbort = [...[route.onRequestAbort ?? []].flat(), unlock]
  })
}
