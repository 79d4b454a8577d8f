import type { Chain, LinkKind } from './chain.js'

/** Something seen or heard on the road: present or absent, at no cost. */
export interface Symptom {
  readonly text: string
  /** Probability of it when a link of this kind is at fault. */
  readonly given: Readonly<Partial<Record<LinkKind, number>>>
  /** The same for kinds that are not named. */
  readonly otherwise: number
}

/**
 * Symptoms and how often each goes with a fault of each kind of link; common practice, no source, but for the pointer that wavers and the head that is
 * right in distance and wrong in speed (TM 9-1829A).
 */
export const SYMPTOMS = {
  'dial-and-record-dead': {
    text: 'Neither the dial nor the odometer moves.',
    given: {
      'wheel-drive-cap': 0.8,
      'angle-drive': 0.6,
      'lower-cable': 0.7,
      'service-counter': 0.5,
      'upper-cable': 0.7,
      head: 0.1,
      'pulse-ring': 0.5,
      sensor: 0.7,
      wiring: 0.6,
      supply: 0.8,
      controller: 0.6,
      display: 0.3,
      interaction: 0.3,
    },
    otherwise: 0.5,
  },
  'dial-dead-record-counts': {
    text: 'The dial is dead or wrong while the odometer goes on rightly.',
    given: { head: 0.6, display: 0.3, controller: 0.1 },
    otherwise: 0.02,
  },
  'counter-counts-dial-dead': {
    text: 'The service counter counts while the dial is dead.',
    given: {
      'upper-cable': 0.7,
      head: 0.5,
      'service-counter': 0.2,
      interaction: 0.1,
      display: 0.3,
      controller: 0.2,
    },
    otherwise: 0.03,
  },
  'pointer-wavers': {
    text: 'The pointer or the figure wavers at steady speed.',
    given: {
      'wheel-drive-cap': 0.1,
      'angle-drive': 0.3,
      'lower-cable': 0.5,
      'upper-cable': 0.5,
      head: 0.4,
      'pulse-ring': 0.4,
      sensor: 0.3,
      wiring: 0.3,
      supply: 0.2,
      interaction: 0.5,
    },
    otherwise: 0.1,
  },
  'drive-squeals': {
    text: 'The drive squeals, ticks or growls.',
    given: {
      'wheel-drive-cap': 0.05,
      'angle-drive': 0.4,
      'lower-cable': 0.35,
      'upper-cable': 0.4,
      'service-counter': 0.15,
      head: 0.3,
      interaction: 0.4,
    },
    otherwise: 0.01,
  },
  'drops-out': {
    text: 'The reading falls to zero now and then, over bumps or when warm.',
    given: {
      'pulse-ring': 0.25,
      sensor: 0.4,
      wiring: 0.7,
      supply: 0.5,
      controller: 0.2,
      display: 0.2,
      'angle-drive': 0.1,
      'lower-cable': 0.15,
      'upper-cable': 0.15,
      'wheel-drive-cap': 0.2,
      interaction: 0.1,
    },
    otherwise: 0.05,
  },
  'free-alone-stiff-together': {
    text: 'Each part turns freely alone; coupled together they are stiff or bind.',
    given: { interaction: 0.9 },
    otherwise: 0.03,
  },
  'new-part-fails-again': {
    text: 'A new part failed again soon, the same way.',
    given: { interaction: 0.7, 'angle-drive': 0.15, 'lower-cable': 0.15, 'upper-cable': 0.15, supply: 0.2 },
    otherwise: 0.05,
  },
} as const satisfies Record<string, Symptom>

export type SymptomId = keyof typeof SYMPTOMS

/**
 * Probability of a symptom, for each link that may be at fault.
 *
 *     P(symptom | i), by the kind of link i
 *
 * @param id - Symptom
 * @param chain - Chain
 * @returns One probability a link
 * @see common practice, no source
 * @example symptomGiven('dial-dead-record-counts', chainOf([{ kind: 'upper-cable' }, { kind: 'head' }])) // [0.02,0.6,0.02]
 */
export function symptomGiven(id: SymptomId, chain: Chain): number[] {
  const { given, otherwise }: Symptom = SYMPTOMS[id]
  return chain.links.map(({ kind }) => given[kind] ?? otherwise)
}
