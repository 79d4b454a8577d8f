import { randomBytes } from 'node:crypto'
import type { IncomingMessage } from 'node:http'

export const REQUEST_ID = 'x-request-id'

/** Ids accepted from a caller: letters, digits, point, dash and underscore only, since they are logged. */
const ACCEPTED = /^[\w.-]{1,64}$/

/** Distinguishes this run of the service from others in the same log. */
const RUN = randomBytes(4).toString('hex')

let requests = 0

/** A unique request id. */
export function newRequestId(): string {
  requests++
  return `${RUN}-${requests.toString(36)}`
}

/** The id given by the proxy or caller if it is well-formed; otherwise a new one. */
export function requestIdOf({ headers }: Pick<IncomingMessage, 'headers'>): string {
  const given = headers[REQUEST_ID]
  return typeof given === 'string' && ACCEPTED.test(given) ? given : newRequestId()
}
