import type { TSchema } from '@sinclair/typebox'
import type { FastifyRequest } from 'fastify'
import { mergePatch } from '../http/merge-patch.js'
import type { RequestProblem } from '../http/request-problem.js'

/**
 * Validates values as if each had been sent as a body.
 *
 * @param schema - One schema object for all requests, so that its validator is compiled once
 * @returns The faults of a value, or undefined
 */
export function checker(request: FastifyRequest, schema: TSchema) {
  const validate = request.compileValidationSchema(schema, 'body') as (
    value: unknown,
  ) => true | { readonly error: RequestProblem }
  return (value: unknown): RequestProblem | undefined => {
    const outcome = validate(value)
    return outcome === true ? undefined : outcome.error
  }
}

/** Applies the merge patch of a request to a stored record. @throws {RequestProblem} if the result is not valid */
export function patched(request: FastifyRequest, schema: TSchema, current: unknown): unknown {
  const whole = mergePatch(current, request.body)
  const problem = checker(request, schema)(whole)
  if (problem !== undefined) throw problem
  return whole
}
