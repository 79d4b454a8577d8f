import type { Chain, LinkKind } from './chain.js'

/** Something the driver sees or hears on the road: present or absent. Asking costs no time. */
export interface Symptom {
  readonly text: string
  /** Probability of the symptom when a link of this kind is at fault. */
  readonly given: Readonly<Partial<Record<LinkKind, number>>>
  /** Probability for kinds that `given` does not list. */
  readonly otherwise: number
  /** Kind of link that runs while the symptom is present: it clears the links before it, and a chain without one does not show the symptom. */
  readonly running?: LinkKind
}

/**
 * Symptoms, and how often each goes with a fault in a link of each kind; common practice, no source. Two are published (TM 9-1829A): the pointer that
 * wavers, and the head that is right in distance and wrong in speed.
 */
export const SYMPTOMS = {
  'dial-and-odometer-dead': {
    text: 'Neither the dial nor the odometer moves.',
    given: {
      'gearbox-drive': 0.8,
      'hub-drive': 0.8,
      'angle-drive': 0.6,
      cable: 0.7,
      'in-line-unit': 0.5,
      adapter: 0.6,
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
  'dial-dead-odometer-counts': {
    text: 'The dial is dead or wrong while the odometer counts correctly.',
    given: { head: 0.6, display: 0.3, controller: 0.1 },
    otherwise: 0.02,
  },
  'in-line-unit-runs-dial-dead': {
    text: 'The in-line unit (a counter, a reminder or a switch) works while the dial is dead.',
    given: { cable: 0.7, head: 0.5, 'in-line-unit': 0.2, interaction: 0.1, display: 0.3, controller: 0.2 },
    otherwise: 0.03,
    running: 'in-line-unit',
  },
  'pointer-wavers': {
    text: 'The pointer or the digits waver at a steady speed.',
    given: {
      'gearbox-drive': 0.1,
      'hub-drive': 0.1,
      'angle-drive': 0.3,
      cable: 0.5,
      adapter: 0.3,
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
      'gearbox-drive': 0.05,
      'hub-drive': 0.05,
      'angle-drive': 0.4,
      cable: 0.35,
      'in-line-unit': 0.15,
      adapter: 0.4,
      head: 0.3,
      interaction: 0.4,
    },
    otherwise: 0.01,
  },
  'drops-out': {
    text: 'The reading drops to zero now and then, over bumps or when warm.',
    given: {
      'pulse-ring': 0.25,
      sensor: 0.4,
      wiring: 0.7,
      supply: 0.5,
      controller: 0.2,
      display: 0.2,
      'gearbox-drive': 0.2,
      'hub-drive': 0.2,
      'angle-drive': 0.1,
      cable: 0.15,
      adapter: 0.1,
      interaction: 0.1,
    },
    otherwise: 0.05,
  },
  'free-alone-stiff-together': {
    text: 'Each part turns freely alone; coupled together the parts are stiff or bind.',
    given: { interaction: 0.9 },
    otherwise: 0.03,
  },
  'new-part-fails-again': {
    text: 'A part was replaced, and the new one soon failed in the same way.',
    given: { interaction: 0.7, 'angle-drive': 0.15, cable: 0.15, adapter: 0.15, supply: 0.2 },
    otherwise: 0.05,
  },
} as const satisfies Record<string, Symptom>

export type SymptomId = keyof typeof SYMPTOMS

/**
 * Symptoms that a chain can show.
 *
 *     all symptoms, without those that need a link of a kind that the chain does not have
 *
 * @param chain - Chain
 * @returns Ids of the symptoms
 * @see common practice, no source
 * @example symptomsOf(chainOf([{ kind: 'cable' }, { kind: 'head' }])).includes('in-line-unit-runs-dial-dead') // false
 */
export function symptomsOf(chain: Chain): SymptomId[] {
  return (Object.keys(SYMPTOMS) as SymptomId[]).filter((id) => {
    const { running }: Symptom = SYMPTOMS[id]
    return running === undefined || chain.links.some(({ kind }) => kind === running)
  })
}

/**
 * Probability of a symptom, for each link that may be at fault.
 *
 *     P(symptom | i), by the kind of link i; for a link before the one that still runs, as for a kind that is not listed
 *
 * @param id - Symptom
 * @param chain - Chain
 * @returns One probability for each link
 * @see common practice, no source
 * @example symptomGiven('dial-dead-odometer-counts', chainOf([{ kind: 'cable' }, { kind: 'head' }])) // [0.02,0.6,0.02]
 * @example symptomGiven('in-line-unit-runs-dial-dead', chainOf([{ kind: 'cable', name: 'rear' }, { kind: 'in-line-unit' }, { kind: 'cable', name: 'front' }])) // [0.03,0.2,0.7,0.1]
 */
export function symptomGiven(id: SymptomId, chain: Chain): number[] {
  const { given, otherwise, running }: Symptom = SYMPTOMS[id]
  const from = chain.links.findIndex(({ kind }) => kind === running)
  return chain.links.map(({ kind }, i) =>
    i < from && kind !== 'interaction' ? otherwise : (given[kind] ?? otherwise),
  )
}
