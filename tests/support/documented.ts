import { expect } from 'vitest'
import type { Answer } from './app.js'
import {
  faultsOf,
  headerSchema,
  operationOf,
  operations,
  type ResponseObject,
  readOpenApi,
} from './contract.js'
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

/** What is wrong with the headers of an answer. */
function* headerFaults(answer: Answer, headers: NonNullable<ResponseObject['headers']>): Generator<string> {
  for (const [name, value] of Object.entries(answer.headers)) {
    if (OF_HTTP.has(name)) continue
    if (Object.hasOwn(headers, name))
      for (const fault of faultsOf(headerSchema(document, headers[name]!), value))
        yield `${name}: ${value}: ${fault}`
    else yield `${name}, which is not in the document`
  }
  if (answer.status < 400) {
    for (const name of Object.keys(headers))
      if (!/^(ratelimit|idempotency|x-request-id)/.test(name) && !Object.hasOwn(answer.headers, name))
        yield `without ${name}`
  }
  const { location } = answer.headers
  if (typeof location === 'string' && !ADDRESSES.some((address) => address.test(location)))
    yield `location: ${location}`
}

/** What is wrong with the body of an answer. */
function* bodyFaults({ headers, text }: Answer, content: NonNullable<ResponseObject['content']>) {
  const type = headers['content-type']
  if (Object.keys(content).length === 0) {
    if (text !== '') yield 'a body'
    if (type !== undefined) yield `a media type: ${type}`
    return
  }
  const full = String(type)
  const mediaType = full in content ? full : full.split(';')[0]!.trim()
  const media = content[mediaType]
  if (media === undefined) {
    yield `a media type that is not in the document: ${mediaType}`
    return
  }
  for (const value of valuesOf(mediaType, text)) yield* faultsOf(media.schema!, value)
  if (mediaType.startsWith('text/') && NO_NUMBER.test(text)) yield 'text that stands for no value'
}

/**
 * Checks that an answer is one that the document describes for an operation: its status, headers, media type and body.
 * One assertion for all of it: assertions are what takes most of the time of a hundred thousand answers.
 */
export function expectDocumented(operationId: string, answer: Answer): void {
  const response = operationOf(operationId).spec.responses[String(answer.status)]
  const faults =
    response === undefined
      ? ['a status that is not in the document']
      : [...headerFaults(answer, response.headers ?? {}), ...bodyFaults(answer, response.content ?? {})]
  expect(faults, `${operationId} answered ${answer.status}: ${answer.text.slice(0, 600)}`).toEqual([])
}
