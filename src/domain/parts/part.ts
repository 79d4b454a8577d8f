import type { Figure } from '../measure/figure.js'
import type { Mutable } from '../mutable.js'

/** Gender of an end: `male` (male: plug, stud, spigot, shaft) goes into `female` (female: socket, hole, recess, bore). */
export type Gender = 'female' | 'male'

export type ShaftForm = 'square' | 'blade' | 'round' | 'spline'

/** Evenly spaced holes (`female`) or studs (`male`) on a circle; `boreM` is the center hole or spigot. */
export interface BoltCircle {
  readonly kind: 'bolt-circle'
  readonly bolts: number
  readonly circleDiameterM: Figure
  readonly boltHoleM?: Figure
  readonly boreM?: Figure
  readonly gender?: Gender
}

/** A driving end or its socket; `sizeM` is the width across flats, the width of the blade, or the (major) diameter. */
export interface ShaftEnd {
  readonly kind: 'shaft'
  readonly form: ShaftForm
  readonly sizeM: Figure
  /** Teeth of a spline. */
  readonly teeth?: number
  readonly gender: Gender
}

export interface ThreadEnd {
  readonly kind: 'thread'
  readonly designation: string
  readonly gender: Gender
}

/** A plain round hole. */
export interface Bore {
  readonly kind: 'bore'
  readonly diameterM: Figure
}

/** A plain round flange, centered by a spigot (`male`) or a recess (`female`). */
export interface Flange {
  readonly kind: 'flange'
  readonly diameterM: Figure
  readonly spigotDiameterM?: Figure
  readonly thicknessM?: Figure
  readonly gender?: Gender
}

/** Interface of a part to another part. */
export type Interface = BoltCircle | ShaftEnd | ThreadEnd | Bore | Flange

export type PartKind =
  | 'driving-gear'
  | 'driven-gear'
  | 'adapter'
  | 'angle-drive'
  | 'cable'
  | 'head'
  | 'pulse-ring'
  | 'pick-up'
  | 'pulse-scaler'
  | 'adapter-plate'
  | 'coupling'
  | 'hub'
  | 'flange'
  | 'other'

/** What a part is. */
export interface PartSummary {
  readonly id: string
  readonly kind: PartKind
  readonly name: string
  readonly maker?: string
  readonly number?: string
}

export interface Part extends PartSummary {
  readonly interfaces: readonly Interface[]
}

/**
 * What a part is, without all else that is recorded of it.
 *
 * @param part - A recorded part
 * @returns Its id, kind and name, its maker and number where they are known
 * @see definitions
 * @example summaryOf({ id: 'a', kind: 'hub', name: 'Hub', interfaces: [] }) // {"id":"a","kind":"hub","name":"Hub"}
 */
export function summaryOf(part: PartSummary): PartSummary {
  const { id, kind, name, maker, number } = part
  const summary: Mutable<PartSummary> = { id, kind, name }
  if (maker !== undefined) summary.maker = maker
  if (number !== undefined) summary.number = number
  return summary
}
