import type { Static, TSchema } from '@sinclair/typebox'
import { provenance, type Traced } from '../domain/measure/provenance.js'
import { encoder } from './encoder.js'
import type { Si, Undeclared } from './si.js'

const PROVENANCE = ['model', 'sources', 'notes'] as const

/** What a computation returns for an answer: all of its fields, with quantities in SI. */
export type Result<A extends TSchema> = Si<Omit<Static<A>, (typeof PROVENANCE)[number]>>

/** Every field of the answer comes from the computation. */
export type CompleteAnswer<A extends TSchema, F extends (...given: never[]) => unknown> = [
  Undeclared<Result<A>, ReturnType<F>>,
] extends [never]
  ? unknown
  : { missingInResult: Undeclared<Result<A>, ReturnType<F>> }

/**
 * Makes what writes the result of a computation as the answer on the wire.
 *
 * @param compute - The computation; its result is the answer with quantities in SI
 */
export function writing<A extends TSchema, Given extends unknown[], F extends (...given: never[]) => Traced>({
  answer,
  compute,
}: {
  answer: A
  compute: F & ((...given: Given) => Result<A> & Traced)
} & CompleteAnswer<A, F>): (...given: Given) => Static<A> {
  const encode = encoder(answer, PROVENANCE as never)
  return (...given) => {
    const result = compute(...given)
    return encode(result as never, provenance(result) as never)
  }
}
