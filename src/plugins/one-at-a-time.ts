import type { FastifyReply, FastifyRequest } from 'fastify'
import { callerLeft } from '../border/request-problem.js'
import { callerOf } from './caller-counts.js'

/**
 * Serializes the requests of each caller, in the order in which they arrived completely; those of different callers run concurrently. For requests
 * that take many times the memory of their body.
 *
 * @returns Resolves when it is the turn of a request; the next one follows once that is answered or its caller has disconnected
 */
export function oneAtATime() {
  /** End of the last request of each caller. */
  const last = new Map<string, Promise<unknown>>()
  return async (request: FastifyRequest, { raw }: FastifyReply): Promise<void> => {
    const caller = callerOf(request)
    const before = last.get(caller)
    const answered = new Promise((resolve) => raw.once('close', resolve).once('finish', resolve))
    const done = Promise.all([before, answered]).then(() => {
      if (last.get(caller) === done) last.delete(caller)
    })
    last.set(caller, done)
    await before
    if (request.raw.socket.destroyed) throw callerLeft()
  }
}
