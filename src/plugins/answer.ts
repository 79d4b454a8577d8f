import { type IncomingMessage, ServerResponse } from 'node:http'
import { performance } from 'node:perf_hooks'
import type { FastifyRequest } from 'fastify'

/** An answer that knows when its request came, and later which. */
export class Answer<R extends IncomingMessage = IncomingMessage> extends ServerResponse<R> {
  readonly cameMs = performance.now()
  request: FastifyRequest | undefined = undefined
  /** Where the request is counted as in hand. */
  place: number | undefined = undefined
  /** What is done when the request has its turn. */
  onTurn: (() => void) | undefined = undefined
  /** Whether its connection is ended when the client takes nothing of it for a while. */
  isTimed = false
}
