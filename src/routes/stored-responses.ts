import type { FastifyReply, FastifyRequest } from 'fastify'
import type { Author, SaveResponse, SharedAuthor, StoredResponse } from '../db/store.js'
import { etagOf, isUnchanged } from '../http/etags.js'

const JSON_UTF8 = 'application/json; charset=utf-8'

/** The author of a change, on a route that needs a key. */
export function authorOf({ caller }: FastifyRequest): Author {
  if (caller === undefined) throw new Error('a route that needs a key was reached without one')
  return caller
}

/** The author of a change to shared data, on a route that needs a key. */
export function sharedAuthorOf({ caller }: FastifyRequest): SharedAuthor {
  if (caller === undefined) throw new Error('a route that needs a key was reached without one')
  return { accountId: caller.accountId, keyId: caller.keyId, changesOthers: caller.role === 'admin' }
}

/** Sends JSON text unchanged. */
export const sendText = (reply: FastifyReply, text: string | Buffer): FastifyReply =>
  reply.header('content-type', JSON_UTF8).send(text)

/** Asks the store to save the response if the request has an Idempotency-Key. */
export function saveFor<T>(
  { idempotency }: FastifyRequest,
  answer: (made: T) => StoredResponse,
): SaveResponse<T> | undefined {
  return idempotency === undefined ? undefined : { ...idempotency, answer }
}

/** Sends a response that may be stored: the first response equals its repetitions. */
export function sendResponse(reply: FastifyReply, { status, headers, body }: StoredResponse): FastifyReply {
  return sendText(reply.code(status).headers(headers), body)
}

/** Sends a resource, or 304 if the client has this version. */
export function sendUnlessUnchanged(
  { headers }: FastifyRequest,
  reply: FastifyReply,
  version: number,
  send: () => FastifyReply,
): FastifyReply {
  return isUnchanged(headers, version) ? reply.code(304).header('etag', etagOf(version)).send() : send()
}
