import type { FastifyReply, FastifyRequest } from 'fastify'
import type { Author, Keep, KeptAnswer } from '../db/store.js'

const JSON_TYPE = 'application/json; charset=utf-8'

/** Whoever makes a change, on a route that needs a key. */
export function authorOf({ caller }: FastifyRequest): Author {
  if (caller === undefined) throw new Error('a route that needs a key was reached without one')
  return caller
}

/** An answer of JSON text as it is. */
export function jsonAnswer(status: number, body: string, headers: Record<string, string> = {}): KeptAnswer {
  return { status, headers: { 'content-type': JSON_TYPE, ...headers }, body }
}

/** Asks the store to keep the answer when the request has an Idempotency-Key. */
export function keepFor<T>(
  { repeatable }: FastifyRequest,
  answer: (made: T) => KeptAnswer,
): Keep<T> | undefined {
  return repeatable === undefined ? undefined : { ...repeatable, answer }
}

export function sendAnswer(reply: FastifyReply, { status, headers, body }: KeptAnswer): FastifyReply {
  return reply.code(status).headers(headers).send(body)
}
