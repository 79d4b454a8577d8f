import type { Figure } from '../measure/figure.js'

/** `male` goes into `female`: a plug, stud, spigot or shaft into a socket, hole, recess or bore. */
export type Gender = 'female' | 'male'

export type ShaftForm = 'square' | 'blade' | 'round' | 'spline'

/** Evenly spaced holes (`female`) or studs (`male`) on a circle; `boreM` is the hole or spigot in their middle. */
export interface BoltCircle {
  readonly kind: 'bolt-circle'
  readonly bolts: number
  readonly circleDiameterM: Figure
  readonly boltHoleM?: Figure
  readonly boreM?: Figure
  readonly gender?: Gender
}

/** A driving end or its socket; `sizeM` is across the flats, the width of the blade, or the (major) diameter. */
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

/** A plain round flange; the spigot (`male`) or the recess that takes it (`female`) centers it. */
export interface Flange {
  readonly kind: 'flange'
  readonly diameterM: Figure
  readonly spigotDiameterM?: Figure
  readonly thicknessM?: Figure
  readonly gender?: Gender
}

/** Where a part meets another. */
export type Interface = BoltCircle | ShaftEnd | ThreadEnd | Bore | Flange
