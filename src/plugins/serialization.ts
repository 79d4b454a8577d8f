import type { FastifyInstance } from 'fastify'

/** @throws {RangeError} for a number that is not finite; names its path */
function refuseNotFinite(value: unknown, path: string): void {
  if (typeof value === 'number' && !Number.isFinite(value)) throw new RangeError(`${path} is ${value}`)
  if (typeof value !== 'object' || value === null) return
  for (const [key, inner] of Object.entries(value)) refuseNotFinite(inner, `${path}/${key}`)
}

/**
 * JSON text of a response.
 *
 * @throws {RangeError} for a number that is not finite: JSON has none, and would say null in its place
 */
export function answerText(answer: unknown): string {
  const text = JSON.stringify(answer)
  // A non-finite number is written as null; searching the text is cheap compared with writing it.
  if (text.includes('null')) refuseNotFinite(answer, '')
  return text
}

/**
 * Serializes responses with JSON.stringify: their types come from the schemas, and the contract tests validate each by its schema.
 *
 * A serializer compiled from the schema would drop unknown fields and write a missing number as 0, which hides faults; it is also
 * slow for long responses (docs/decisions/0010-answers-written-plainly.md).
 */
export function registerSerialization(app: FastifyInstance): void {
  // Set on each route: a compiler set on the application would copy the list of named schemas for each route.
  app.addHook('onRoute', (route) => {
    route.serializerCompiler ??= () => answerText
  })
}
