import { randomBytes } from 'node:crypto'
import type { IncomingMessage } from 'node:http'

export const REQUEST_ID = 'x-request-id'

/** What a caller may call its request: it stands in the log, so nothing but letters, digits, point, dash and underscore. */
const TAKEN = /^[\w.-]{1,64}$/

/** Tells this run of the service from others in one log. */
const RUN = randomBytes(4).toString('hex')

let requests = 0

/** An id that no other request has. */
export function newRequestId(): string {
  requests++
  return `${RUN}-${requests.toString(36)}`
}

/** The id that a proxy or caller gave a request, when it has the form of one; else a new one. */
export function requestIdOf({ headers }: Pick<IncomingMessage, 'headers'>): string {
  const given = headers[REQUEST_ID]
  return typeof given === 'string' && TAKEN.test(given) ? given : newRequestId()
}
