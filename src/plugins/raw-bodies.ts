import type { FastifyInstance } from 'fastify'
import type { RawBody, ReadJson } from '../http/raw-body.js'
import { parseStrictJson } from './strict-json.js'
import type { CheckOf } from './validation.js'

/** Turns off body validation in a scope for routes that name their media type (`body.content`): their handlers validate. */
export function leaveBodies(scope: FastifyInstance): void {
  scope.addHook('onRoute', (route) => {
    const compile = route.validatorCompiler!
    route.validatorCompiler = (part) =>
      (part as { contentType?: string }).contentType === undefined ? compile(part) : () => true
  })
}

/** Passes bodies of one media type to the routes of a scope unparsed, since they may be too large to parse on the main thread. */
export function takeRaw(scope: FastifyInstance, mediaType: string): void {
  leaveBodies(scope)
  scope.removeAllContentTypeParsers()
  scope.addContentTypeParser(mediaType, { parseAs: 'buffer' }, (_request, bytes, done) =>
    done(null, { bytes: bytes as Buffer } satisfies RawBody),
  )
}

/** Makes the reader of unparsed JSON bodies: parses strictly and validates, as the framework does with other bodies. */
export function jsonReader(checkOf: CheckOf): ReadJson {
  const checks = new Map<object, ReturnType<CheckOf>>()
  return (schema, { buffer, byteOffset, byteLength }) => {
    let check = checks.get(schema)
    if (check === undefined) {
      check = checkOf(schema, 'body')
      checks.set(schema, check)
    }
    const value = parseStrictJson(Buffer.from(buffer as ArrayBuffer, byteOffset, byteLength))
    const checked = check(value)
    if (checked !== true) throw checked.error
    return value as never
  }
}
