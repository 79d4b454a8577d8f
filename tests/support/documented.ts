import { expect } from 'vitest'
import type { Answer } from './app.js'
import { faultsOf, headerSchema, operationOf, operations, readOpenApi } from './contract.js'
import type { AnswerLike } from './problem.js'

const document = readOpenApi()

/** Headers of HTTP itself, of its connections and of browsers, which the document leaves to the protocol. */
const OF_HTTP = new Set([
  'content-type',
  'content-length',
  'date',
  'connection',
  'keep-alive',
  'transfer-encoding',
  'cache-control',
  'content-security-policy',
  'x-content-type-options',
])

/** Text that a number which is none, or a value which is missing, leaves behind. */
const NO_NUMBER = /\b(?:NaN|Infinity|undefined)\b/

/** Addresses of the document as patterns. */
const ADDRESSES = operations(document)
  .filter(({ method }) => method === 'GET')
  .map(({ path }) => new RegExp(`^${path.replaceAll(/\{\w+\}/g, '[^/]+')}$`))

/** What the schema of an answer is about: a value, or that of each line. */
function valuesOf(mediaType: string, text: string): unknown[] {
  if (mediaType === 'application/x-ndjson')
    return text
      .trimEnd()
      .split('\n')
      .map((line) => JSON.parse(line))
  return [mediaType.endsWith('json') ? JSON.parse(text) : text]
}

/** An answer of a client as the checks of problems take it. */
export const likeOf = ({ status, headers, text }: Answer): AnswerLike => ({
  statusCode: status,
  headers,
  body: text,
})

/** Checks that an answer is one that the document describes for an operation: its status, headers, media type and body. */
export function expectDocumented(operationId: string, answer: Answer): void {
  const what = `${operationId} answered ${answer.status}: ${answer.text.slice(0, 600)}`
  const response = operationOf(operationId).spec.responses[String(answer.status)]
  expect(response, `${what}, a status that is not in the document`).toBeDefined()
  const { content = {}, headers = {} } = response!
  for (const [name, value] of Object.entries(answer.headers)) {
    if (OF_HTTP.has(name)) continue
    expect(headers, `${what}, with ${name}, which is not in the document`).toHaveProperty([name])
    expect(faultsOf(headerSchema(document, headers[name]!), value), `${what}, ${name}: ${value}`).toEqual([])
  }
  if (answer.status < 400) {
    for (const name of Object.keys(headers).filter(
      (one) => !/^(ratelimit|idempotency|x-request-id)/.test(one),
    ))
      expect(answer.headers, what).toHaveProperty([name])
  }
  if (Object.keys(content).length === 0) {
    expect(answer.text, what).toBe('')
    expect(answer.headers['content-type'], what).toBeUndefined()
    return
  }
  const full = String(answer.headers['content-type'])
  const mediaType = full in content ? full : full.split(';')[0]!.trim()
  const media = content[mediaType]
  expect(media, `${what}, a media type that is not in the document: ${mediaType}`).toBeDefined()
  for (const value of valuesOf(mediaType, answer.text))
    expect(faultsOf(media!.schema!, value), what).toEqual([])
  if (mediaType.startsWith('text/')) expect(answer.text, what).not.toMatch(NO_NUMBER)
  const { location } = answer.headers
  if (typeof location === 'string')
    expect(
      ADDRESSES.some((address) => address.test(location)),
      `${what}, location: ${location}`,
    ).toBe(true)
}
