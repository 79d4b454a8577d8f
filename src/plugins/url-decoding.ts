import { parse } from 'node:querystring'
import type { FastifyInstance } from 'fastify'
import { RequestProblem } from '../http/request-problem.js'

const decodes = (text: string): boolean => {
  try {
    decodeURIComponent(text)
    return true
  } catch {
    return false
  }
}

/** Adjacent escapes, which may encode one character together; or a % with the characters in the place of its digits. */
const ESCAPES = /(?:%[0-9a-f]{2})+|%.{0,2}/gi

/** The problem of a URL that cannot be decoded; names the faulty escape. */
export function malformedUrl(address: string): RequestProblem {
  const part = address.match(ESCAPES)?.find((escapes) => !decodes(escapes)) ?? '%'
  return new RequestProblem(
    'malformed-url',
    `The address cannot be decoded at ${part.slice(0, 30)}: a % starts an escape of two hexadecimal digits, and escapes together are UTF-8; a bare % is %25.`,
  )
}

/**
 * Refuses a URL whose query string cannot be decoded; the router does so for its path. Node's parser would leave such an escape
 * unchanged, or replace it by U+FFFD.
 */
export function registerUrlDecoding(app: FastifyInstance): void {
  app.addHook('onRequest', ({ url }, _reply, done) => {
    done(url.includes('%') && !decodes(url) ? malformedUrl(url) : undefined)
  })
}

/** Parses all parameters of a query string; by default Node ignores those after the first thousand. */
export const readQuery = (text: string) => parse(text, '&', '=', { maxKeys: 0 })
