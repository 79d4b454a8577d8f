import type { Static, TSchema } from '@sinclair/typebox'
import { type CompleteAnswer, type Result, writing } from '../codec/answer.js'
import { decoder } from '../codec/decoder.js'
import type { CompleteRequest, Given } from '../codec/request.js'
import type { Traced } from '../domain/measure/provenance.js'
import { ref } from '../schemas/named-shapes.js'
import { type ErrorStatus, problems } from '../schemas/problems.js'
import type { RateWeight } from '../schemas/rate-weights.js'

/** Every field of the request has its place in the domain, and every field of the answer comes from there. */
type Complete<
  B extends TSchema,
  A extends TSchema,
  F extends (...given: never[]) => unknown,
> = CompleteRequest<B, F> & CompleteAnswer<A, F>

/** From the body on the wire to the answer on the wire. `Context` is what a computation needs beside the request. */
export type Answering<B extends TSchema, A extends TSchema, Context extends unknown[]> = (
  body: Static<B>,
  ...context: Context
) => Static<A>

/**
 * Makes the way of a request through a computation of the domain and back.
 *
 * @param compute - The computation; its request is the body and its result the answer, both with quantities in SI
 */
export function answering<
  B extends TSchema,
  A extends TSchema,
  Context extends unknown[],
  F extends (request: never, ...context: Context) => Traced,
>({
  body,
  answer,
  compute,
}: {
  body: B
  answer: A
  compute: F & ((request: Given<B>, ...context: Context) => Result<A> & Traced)
} & Complete<B, A, F>): Answering<B, A, Context> {
  const decode = decoder(body)
  const answered = writing({ answer, compute } as never) as (...given: unknown[]) => Static<A>
  return (wire, ...context) => answered(decode(wire), ...context)
}

/** What the document says of a calculation. */
export interface CalculationText<B extends TSchema, A extends TSchema> {
  readonly id: string
  readonly summary: string
  readonly description: string
  readonly tag: string
  readonly body: B
  readonly answer: A
  /** Errors beside those that follow from what every calculation is. */
  readonly errors?: readonly ErrorStatus[]
  /** What a request counts for in the rate limit, where it is more than one. */
  readonly weight?: RateWeight
}

/** The schema of a route that takes a body and computes. */
export const calculationSchema = <B extends TSchema, A extends TSchema>({
  id,
  summary,
  description,
  tag,
  body,
  answer,
  errors = [],
  weight,
}: CalculationText<B, A>) => ({
  operationId: id,
  ...weight,
  summary,
  description,
  tags: [tag],
  body: ref(body),
  response: { 200: ref(answer), ...problems(...errors) },
})

/** A route that computes at once. */
export function calculation<
  B extends TSchema,
  A extends TSchema,
  Context extends unknown[],
  F extends (request: never, ...context: Context) => Traced,
>(
  given: CalculationText<B, A> & {
    compute: F & ((request: Given<B>, ...context: Context) => Result<A> & Traced)
  } & Complete<B, A, F>,
  ...context: Context
) {
  const answer = answering<B, A, Context, F>(given)
  return {
    schema: calculationSchema(given),
    handler: ({ body }: { body: unknown }) => answer(body as Static<B>, ...context),
  }
}
