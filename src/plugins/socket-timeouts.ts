import type { Socket } from 'node:net'
import type { OpenAnswers } from './open-answers.js'
import type { OpenConnections } from './open-connections.js'
import { isExemptFromRequestTimeout } from './request-timeout-exemption.js'

/** Interval at which responses that are still being sent get a timeout. */
const CHECK_EVERY_MS = 1_000

/** Ends connections whose client leaves a response unread for `stallMs`, so that it does not hold the response forever. @returns The timer */
export function timeUnread(answers: OpenAnswers, stallMs: number): NodeJS.Timeout {
  // At an interval, since most responses are finished by then: a timeout for each would cost every request. The timeout restarts
  // whenever the client reads.
  const check = () => {
    for (const answer of answers) {
      const { socket } = answer.req
      if (!answer.headersSent || answer.isTimed || isExemptFromRequestTimeout(socket)) continue
      answer.isTimed = true
      socket.setTimeout(stallMs)
    }
  }
  return setInterval(check, Math.min(CHECK_EVERY_MS, stallMs)).unref()
}

type WasBlockedWithin = (ms: number) => boolean

/** Ends a connection whose timeout expired; starts the timeout again if the event loop was blocked meanwhile. */
export function endIdle(socket: Socket, wasBlockedWithin: WasBlockedWithin): void {
  // Batches have timeouts of their own.
  if (isExemptFromRequestTimeout(socket)) return
  const { timeout = 0 } = socket
  if (wasBlockedWithin(timeout)) socket.setTimeout(timeout)
  else socket.destroy()
}

export interface LateRequestOptions {
  readonly connections: OpenConnections
  readonly wasBlockedWithin: WasBlockedWithin
  /** How long a request may take to arrive completely. */
  readonly requestTimeoutMs: number
}

/**
 * Calls back if the overdue request of a connection is still incomplete after the socket has been polled again. If the event loop was
 * blocked or the connection paused meanwhile, the request first gets its whole timeout again.
 */
export function whenLate(
  socket: Socket,
  { connections, wasBlockedWithin, requestTimeoutMs }: LateRequestOptions,
  act: () => void,
): void {
  const connection = connections.of(socket)
  if (connection === undefined) return
  const expected = connection.complete + 1
  const check = () => {
    if (socket.destroyed || connection.complete >= expected) return
    if (connection.isPaused || wasBlockedWithin(requestTimeoutMs))
      setTimeout(checkAfterPoll, requestTimeoutMs).unref()
    else act()
  }
  // Timers fire before the event loop polls its sockets.
  const checkAfterPoll = () => setImmediate(check)
  checkAfterPoll()
}
