import { parse } from 'node:querystring'
import type { FastifyInstance } from 'fastify'
import { RequestProblem } from '../border/request-problem.js'

const decodes = (text: string): boolean => {
  try {
    decodeURIComponent(text)
    return true
  } catch {
    return false
  }
}

/** Escapes that stand together, which may be one character; a % alone with what stands where its digits should. */
const ESCAPES = /(?:%[0-9a-f]{2})+|%.{0,2}/gi

/** An address that cannot be decoded, and at what. */
export function malformedUrl(address: string): RequestProblem {
  const part = address.match(ESCAPES)?.find((escapes) => !decodes(escapes)) ?? '%'
  return new RequestProblem(
    'malformed-url',
    `The address cannot be decoded at ${part.slice(0, 30)}: a % starts an escape of two hexadecimal digits, and escapes together are UTF-8; a bare % is %25.`,
  )
}

/**
 * Refuses an address whose query string cannot be decoded; the router sees to its path. Node's own reading would leave such an
 * escape as it stands, or put another character in its place.
 */
export function registerUrlDecoding(app: FastifyInstance): void {
  app.addHook('onRequest', ({ url }, _reply, done) => {
    done(url.includes('%') && !decodes(url) ? malformedUrl(url) : undefined)
  })
}

/** All parameters of a query string: as many as there are, where Node would pass over what comes after a thousand. */
export const readQuery = (text: string) => parse(text, '&', '=', { maxKeys: 0 })
