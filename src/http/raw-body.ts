import type { Static, TSchema } from '@sinclair/typebox'

export const JSON_TYPE = 'application/json'

/** A body as it came. */
export interface RawBody {
  readonly bytes: Uint8Array
}

/**
 * Reads JSON text strictly and checks it by a schema, as a body that the framework reads.
 *
 * @param schema - One schema object for all requests, so that its validator is compiled once
 */
export type ReadJson = <S extends TSchema>(schema: S, bytes: Uint8Array) => Static<S>

/** Bytes up to which a body is read and computed at once: some ten milliseconds. */
const LIGHT_BYTES = 50_000

/** Whether to compute from a body at once would keep other callers waiting. */
export const isHeavy = ({ bytes }: RawBody): boolean => bytes.byteLength > LIGHT_BYTES

/** The same where a body is only read, and computed bit by bit. */
const LIGHT_TO_READ_BYTES = 262_144

export const isHeavyToRead = ({ bytes }: RawBody): boolean => bytes.byteLength > LIGHT_TO_READ_BYTES
