import type { FastifyReply, FastifyRequest } from 'fastify'
import type { Shared, StoredResponse } from '../db/store.js'
import { etagOf } from '../http/etags.js'
import { noSuch, sharedText } from '../http/shared.js'
import { sendText, sendUnlessUnchanged } from './stored-responses.js'

/** Sends a shared record: a part, a fit report or a tire size. */
export const sendShared = (reply: FastifyReply, thing: Shared): FastifyReply =>
  sendText(reply.header('etag', etagOf(thing.version)), sharedText(thing))

/** Sends a shared record that a request reads. @throws {RequestProblem} if there is no such `what` */
export function sendRead(
  request: FastifyRequest,
  reply: FastifyReply,
  thing: Shared | undefined,
  what: string,
): FastifyReply {
  if (thing === undefined) throw noSuch(what)
  return sendUnlessUnchanged(request, reply, thing.version, () => sendShared(reply, thing))
}

/** Makes the response to the creation of a shared record under a path. */
export const sharedCreated =
  (address: string) =>
  (thing: Shared): StoredResponse => ({
    status: 201,
    headers: { etag: etagOf(thing.version), location: `${address}/${thing.id}` },
    body: sharedText(thing),
  })
