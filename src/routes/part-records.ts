import { Type } from '@sinclair/typebox'
import { decoder } from '../codec/decoder.js'
import type { PartInput, Shared } from '../db/store.js'
import { type Part, type PartSummary, summaryOf } from '../domain/parts/part.js'
import { soundInterfaceKeys } from '../domain/parts/soundness.js'
import { ref } from '../schemas/named-shapes.js'
import { Interface } from '../schemas/part-interfaces.js'
import type { PartShape } from '../schemas/parts.js'

const interfacesOf = decoder(Type.Array(ref(Interface)))

/**
 * A part for the store: its text and its search keys.
 *
 * @throws {DomainError} those of `soundInterfaceKeys`
 */
export function partInput(part: PartShape): PartInput {
  const { kind, name, maker, number, notes } = part
  return {
    kind,
    name,
    ...(maker === undefined ? {} : { maker }),
    ...(number === undefined ? {} : { number }),
    ...(notes === undefined ? {} : { notes }),
    interfaces: soundInterfaceKeys(interfacesOf(part.interfaces)),
    content: JSON.stringify(part),
  }
}

/** A stored part as it was given. */
export const partOf = ({ content }: Shared): PartShape => JSON.parse(content)

/** A stored part in its domain form. */
export function recordedPart(stored: Shared): Part {
  const part = partOf(stored)
  return { ...part, id: stored.id, interfaces: interfacesOf(part.interfaces) }
}

export const recordedSummary = (stored: Shared): PartSummary =>
  summaryOf({ ...partOf(stored), id: stored.id })
