import type { Socket } from 'node:net'

const exempt = new WeakSet<Socket>()

/**
 * Lets the current request take longer than the request timeout to arrive: its route has timeouts of its own, and closes the
 * connection after the response.
 */
export const exemptFromRequestTimeout = (socket: Socket): void => void exempt.add(socket)

export const isExemptFromRequestTimeout = (socket: Socket): boolean => exempt.has(socket)
