import type { FastifyReply, FastifyRequest } from 'fastify'
import { etagOf } from '../border/conditions.js'
import { noSuch, sharedText } from '../border/shared.js'
import type { KeptAnswer, Shared } from '../db/store.js'
import { sendText, sendUnlessUnchanged } from './keep.js'

/** The answer that shows what is shared in the instance: a part, a fit report, a tire size. */
export const sendShared = (reply: FastifyReply, thing: Shared): FastifyReply =>
  sendText(reply.header('etag', etagOf(thing.version)), sharedText(thing))

/** Answers a read of one. @throws {RequestProblem} when it is not there; `what` says what it would be */
export function sendRead(
  request: FastifyRequest,
  reply: FastifyReply,
  thing: Shared | undefined,
  what: string,
): FastifyReply {
  if (thing === undefined) throw noSuch(what)
  return sendUnlessUnchanged(request, reply, thing.version, () => sendShared(reply, thing))
}

/** Makes the answer to the creation of one under an address. */
export const sharedCreated =
  (address: string) =>
  (thing: Shared): KeptAnswer => ({
    status: 201,
    headers: { etag: etagOf(thing.version), location: `${address}/${thing.id}` },
    body: sharedText(thing),
  })
