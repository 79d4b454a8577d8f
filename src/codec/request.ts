import type { Static, TSchema } from '@sinclair/typebox'
import { decoder } from './decoder.js'
import type { Si, Undeclared } from './si.js'

/** What a computation is given for a body: all of its fields, with quantities in SI. */
export type Given<B extends TSchema> = Si<Static<B>>

/** Every field of the body has its place in the request of the computation. */
export type CompleteRequest<B extends TSchema, F extends (...given: never[]) => unknown> = [
  Undeclared<Given<B>, Parameters<F>[0]>,
] extends [never]
  ? unknown
  : { unreadRequestField: Undeclared<Given<B>, Parameters<F>[0]> }

/**
 * Makes what reads a body on the wire as the request of a computation.
 *
 * @param compute - The computation that takes it; where it also answers, `answering` does both ways
 */
export const reading = <B extends TSchema, F extends (request: never, ...context: never[]) => unknown>({
  body,
}: {
  body: B
  compute: F & ((request: Given<B>, ...context: never[]) => unknown)
} & CompleteRequest<B, F>): ((wire: Static<B>) => Given<B>) => decoder(body)
