import { bindingCauses, type DragCause } from '../cables/drag-findings.js'
import type { DragPart, PartKind } from '../cables/torque-test.js'
import type { Mutable } from '../mutable.js'
import type { Chain, LinkKind } from './chain.js'

/** What to do about a fault that shows only when parts are together. */
export interface InteractionAdvice {
  /** The parts that it is between, as a torque test takes them. */
  readonly parts: readonly DragPart[]
  readonly causes: readonly DragCause[]
  /** Of an interaction that was put in: the links that meet where it is likeliest, once the tests tell. */
  readonly likeliest?: { readonly names: readonly string[]; readonly probability: number }
}

/** Mechanical links as torque tests know them. */
const PART_KINDS: Readonly<Partial<Record<LinkKind, PartKind>>> = {
  'wheel-drive-cap': 'wheel-drive',
  'angle-drive': 'angle-drive',
  'lower-cable': 'cable',
  'service-counter': 'counter',
  'upper-cable': 'cable',
  head: 'head',
  other: 'other',
}

/**
 * What may be behind a fault that shows only when parts are together, and the parts whose torque tells.
 *
 *     causes that bind where the kinds of the parts meet;  likeliest place = largest P(place | observations)
 *
 * @param chain - Chain
 * @param position - Link that is at fault
 * @param places - Probability of each place of an interaction that was put in
 * @returns Parts, causes and, of an interaction that was put in, the likeliest place; undefined where the link is no interaction, or is between
 *   fewer than two mechanical parts
 * @see common practice, no source; US War Department TM 9-1829A (1944)
 * @example interactionAdvice(chainOf([{ kind: 'upper-cable' }, { kind: 'head' }]), 2, [1]).likeliest.names // ["upper-cable","head"]
 */
export function interactionAdvice(
  chain: Chain,
  position: number,
  places: readonly number[],
): InteractionAdvice | undefined {
  const { links, putIn } = chain
  const parts = (links[position]!.between ?? []).flatMap((i): DragPart[] => {
    const kind = PART_KINDS[links[i]!.kind]
    return kind === undefined ? [] : [{ name: links[i]!.name, kind }]
  })
  if (parts.length < 2) return undefined
  const advice: Mutable<InteractionAdvice> = { parts, causes: bindingCauses(parts.map(({ kind }) => kind)) }
  if (position === putIn?.link) {
    const probability = Math.max(...places)
    const place = putIn.places[places.indexOf(probability)]!
    // Before any test of a stretch every place is as likely as another.
    if (places.length === 1 || places.some((p) => p < probability)) {
      advice.likeliest = { names: place.map((i) => links[i]!.name), probability }
    }
  }
  return advice
}
