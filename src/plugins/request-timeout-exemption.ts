import type { Socket } from 'node:net'

const patient = new WeakSet<Socket>()

/**
 * Lets a request take longer than the request timeout to arrive: its route sees to slow clients by itself, and closes
 * the connection after the answer.
 */
export const exemptFromRequestTimeout = (socket: Socket): void => void patient.add(socket)

export const isExemptFromRequestTimeout = (socket: Socket): boolean => patient.has(socket)
