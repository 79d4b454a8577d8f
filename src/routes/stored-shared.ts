import type { FastifyReply } from 'fastify'
import { etagOf } from '../border/conditions.js'
import { sharedText } from '../border/shared.js'
import type { Shared, StoredResponse } from '../db/store.js'
import { sendText } from './stored-responses.js'

/** Sends a shared record: a part, a fit report or a tire size. */
export const sendShared = (reply: FastifyReply, thing: Shared): FastifyReply =>
  sendText(reply.header('etag', etagOf(thing.version)), sharedText(thing))

/** Makes the response to the creation of a shared record under a path. */
export const sharedCreated =
  (address: string) =>
  (thing: Shared): StoredResponse => ({
    status: 201,
    headers: { etag: etagOf(thing.version), location: `${address}/${thing.id}` },
    body: sharedText(thing),
  })
