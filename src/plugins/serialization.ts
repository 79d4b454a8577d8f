import type { FastifyInstance } from 'fastify'

/** @throws {RangeError} where a number that is not finite stands, by its path */
function refuseNotFinite(value: unknown, path: string): void {
  if (typeof value === 'number' && !Number.isFinite(value)) throw new RangeError(`${path} is ${value}`)
  if (typeof value !== 'object' || value === null) return
  for (const [key, inner] of Object.entries(value)) refuseNotFinite(inner, `${path}/${key}`)
}

/**
 * JSON text of an answer.
 *
 * @throws {RangeError} for a number that is not finite: JSON has none, and would say null in its place
 */
export function answerText(answer: unknown): string {
  const text = JSON.stringify(answer)
  // Only then can there be one; to look for a word costs nothing beside writing the numbers.
  if (text.includes('null')) refuseNotFinite(answer, '')
  return text
}

/**
 * Answers are written as they are: their shapes are typed by the schemas, and the contract tests hold each to its schema.
 *
 * A serializer compiled from the schema would drop what it does not know and write a missing number as 0, where a fault ought to be
 * seen; and it makes long answers dear to send (docs/decisions/0010-answers-written-plainly.md).
 */
export function registerSerialization(app: FastifyInstance): void {
  // Of the route, not of the application: that would copy the list of named shapes for each route.
  app.addHook('onRoute', (route) => {
    route.serializerCompiler ??= () => answerText
  })
}
