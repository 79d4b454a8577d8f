import type { FastifyReply, FastifyRequest } from 'fastify'
import { etagOf, isUnchanged } from '../border/conditions.js'
import type { Author, SaveResponse, SharedAuthor, StoredResponse } from '../db/store.js'

const JSON_UTF8 = 'application/json; charset=utf-8'

/** Whoever makes a change, on a route that needs a key. */
export function authorOf({ caller }: FastifyRequest): Author {
  if (caller === undefined) throw new Error('a route that needs a key was reached without one')
  return caller
}

/** The same for what is shared in the instance. */
export function sharedAuthorOf({ caller }: FastifyRequest): SharedAuthor {
  if (caller === undefined) throw new Error('a route that needs a key was reached without one')
  return { accountId: caller.accountId, keyId: caller.keyId, changesOthers: caller.role === 'admin' }
}

/** Sends JSON text as it is. */
export const sendText = (reply: FastifyReply, text: string | Buffer): FastifyReply =>
  reply.header('content-type', JSON_UTF8).send(text)

/** Asks the store to keep the answer when the request has an Idempotency-Key. */
export function saveFor<T>(
  { repeatable }: FastifyRequest,
  answer: (made: T) => StoredResponse,
): SaveResponse<T> | undefined {
  return repeatable === undefined ? undefined : { ...repeatable, answer }
}

/** Sends what is, or could be, kept: the same on the first time as on every other. */
export function sendResponse(reply: FastifyReply, { status, headers, body }: StoredResponse): FastifyReply {
  return sendText(reply.code(status).headers(headers), body)
}

/** Sends one kept thing, or that it is still the version which the client has. */
export function sendUnlessUnchanged(
  { headers }: FastifyRequest,
  reply: FastifyReply,
  version: number,
  send: () => FastifyReply,
): FastifyReply {
  return isUnchanged(headers, version) ? reply.code(304).header('etag', etagOf(version)).send() : send()
}
