import type { FastifyReply, FastifyRequest } from 'fastify'
import { callerLeft } from '../border/request-problem.js'
import { callerOf } from './shares.js'

/**
 * Has the requests of each caller done one after the other, in the order in which they came whole; those of different callers, beside each other. For what
 * takes many times the memory of its body.
 *
 * @returns Resolves when it is the turn of a request; the next has its turn once that is answered or its caller has left
 */
export function oneAtATime() {
  /** When the last of each caller is done. */
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
