import type { TSchema } from '@sinclair/typebox'
import type { FastifyReply, FastifyRequest } from 'fastify'
import type { Batch } from '../http/batches.js'
import type { VehicleCheckShape } from '../schemas/vehicle-checks.js'
import type { Batches } from './options.js'

/** A line of the response before serialization. */
export type AnswerLine = { line: number } & Record<string, unknown>

/**
 * Answers each item with the result of its check, written by the serializer of the route, or with the problem
 * with it.
 *
 * @param schema - Schema of a line of the response, one object for all requests so that its serializer is compiled once
 * @param check - Checks an item, and adds its reference to the line
 */
export function checkAnswers(
  request: FastifyRequest,
  reply: FastifyReply,
  { problemOf }: Batches,
  schema: TSchema,
  check: (value: unknown, answer: AnswerLine) => Promise<VehicleCheckShape>,
): Batch['answer'] {
  const textOf = reply.compileSerializationSchema(schema) as (answer: AnswerLine) => string
  return async ({ line, read }) => {
    const answer: AnswerLine = { line }
    try {
      const result = await check(read(), answer)
      answer.ok = true
      answer.result = result
      return { ok: true, text: textOf(answer) }
    } catch (error) {
      delete answer.result
      answer.ok = false
      answer.problem = problemOf(error, request)
      return { ok: false, text: textOf(answer) }
    }
  }
}
