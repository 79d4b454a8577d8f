import { bindingCauses, type DragCause } from '../cables/drag-findings.js'
import { PART_KINDS, type PartKind } from '../cables/part-kinds.js'
import type { DragPart } from '../cables/torque-test.js'
import type { Mutable } from '../mutable.js'
import type { Chain, LinkKind } from './chain.js'

const DRAG_OPERATION = 'POST /v1/cables/drag'

const DRAG_CALL =
  'Measure the torque that turns each part alone, each pair of neighbors coupled loosely, and the whole drive in place. Send these parts with the readings to the operation: it finds what the whole takes beyond its parts, and at which joint.'

/** What to do about a fault that shows only when parts run together. */
export interface InteractionAdvice {
  /** The parts involved, as a torque test takes them. */
  readonly parts: readonly DragPart[]
  readonly causes: readonly DragCause[]
  /** The operation that finds the joint from torque tests, and what to measure for it. */
  readonly operation: string
  readonly text: string
  /** Of an interaction that was added: the links that meet at the likeliest place, once tests tell the places apart. */
  readonly likeliest?: { readonly names: readonly string[]; readonly probability: number }
}

const isPartKind = (kind: LinkKind): kind is PartKind => (PART_KINDS as readonly string[]).includes(kind)

/**
 * Possible causes of a fault that shows only when parts run together, and the parts whose torque to measure.
 *
 *     causes that bind where parts of these kinds meet;  likeliest place = largest P(place | observations)
 *
 * @param chain - Chain
 * @param position - Position of the link at fault
 * @param places - Probability of each place of an interaction that was added
 * @returns Parts, causes and, for an interaction that was added, the likeliest place; undefined where the link is not an interaction of two or more
 *   mechanical parts
 * @see common practice, no source; US War Department TM 9-1829A (1944)
 * @example interactionAdvice(chainOf([{ kind: 'cable' }, { kind: 'head' }]), 2, [1]).likeliest.names // ["cable","head"]
 */
export function interactionAdvice(
  chain: Chain,
  position: number,
  places: readonly number[],
): InteractionAdvice | undefined {
  const { links, added } = chain
  const parts = (links[position]!.between ?? []).flatMap((i): DragPart[] => {
    const { name, kind } = links[i]!
    return isPartKind(kind) ? [{ name, kind }] : []
  })
  if (parts.length < 2) return undefined
  const advice: Mutable<InteractionAdvice> = {
    parts,
    causes: bindingCauses(parts.map(({ kind }) => kind)),
    operation: DRAG_OPERATION,
    text: DRAG_CALL,
  }
  if (position === added?.link) {
    const probability = Math.max(...places)
    const place = added.places[places.indexOf(probability)]!
    // Before any test of a stretch all places are equally likely.
    if (places.length === 1 || places.some((p) => p < probability)) {
      advice.likeliest = { names: place.map((i) => links[i]!.name), probability }
    }
  }
  return advice
}
