import { type IncomingMessage, ServerResponse } from 'node:http'
import { performance } from 'node:perf_hooks'
import type { FastifyRequest } from 'fastify'

/** A response that records when its request arrived and, once it is known, the request of the framework. */
export class Answer<R extends IncomingMessage = IncomingMessage> extends ServerResponse<R> {
  readonly arrivedMs = performance.now()
  request: FastifyRequest | undefined = undefined
  /** Index at which the open requests of its route are counted. */
  place: number | undefined = undefined
  /** Handles the request when it is its turn in the queue. */
  onTurn: (() => void) | undefined = undefined
  /** Whether its socket has a timeout that ends the connection when the client stops reading. */
  isTimed = false
}
