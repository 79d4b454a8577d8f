import type { Figure } from '../measure/figure.js'

/** Flaws of a pulse ring, as shares of pitch and radius. */
export interface RingFlaws {
  /** Standard uncertainty of the position of one edge, over the pitch [%]. */
  readonly pitchErrorPercent?: number
  /** Eccentricity over radius [%]. */
  readonly eccentricityPercent?: number
}

interface Named {
  readonly name?: string
  /** The old drive keeps turning the old head in addition to the new pick-up. */
  readonly oldDriveStays?: boolean
}

export interface ShaftRing extends Named, RingFlaws {
  readonly kind: 'shaft-ring'
  readonly pulsesPerTurn: number
  readonly axle?: 'driven' | 'free'
  /** A ring on one axle shaft, or one on each and their mean. */
  readonly wheels?: 'one' | 'both'
}

export interface PropellerShaft extends Named, RingFlaws {
  readonly kind: 'propeller-shaft'
  readonly pulsesPerTurn: number
}

export interface Gearbox extends Named, RingFlaws {
  readonly kind: 'gearbox'
  readonly pulsesPerTurn: number
  /** Turns of the speedometer drive per turn of the propeller shaft. */
  readonly driveRatio: Figure
}

export interface MagneticSensor extends Named, RingFlaws {
  readonly kind: 'magnetic-sensor'
  readonly pulsesPerM: Figure
  readonly pulsesPerTurn?: number
  /** Peak voltage at a speed, and the minimum peak for the comparator. */
  readonly amplitudeV: Figure
  readonly atMPerS: Figure
  readonly requiredAmplitudeV: Figure
}

export interface Satellite extends Named {
  readonly kind: 'satellite'
  readonly rateHz: number
  /** 95 % of one axis. */
  readonly axisUncertaintyMPerS?: number
  readonly latencyS?: number
  readonly coldStartS?: number
  readonly warmStartS?: number
  readonly steepestSlopePercent?: number
}

export type SignalOption = ShaftRing | PropellerShaft | Gearbox | MagneticSensor | Satellite

export interface DrivenHead {
  readonly kind: 'driven-head'
  readonly name?: string
  /** Signal that controls the motor. */
  readonly signal: SignalOption
  readonly head: {
    /** Turns per distance, as marked on its dial. */
    readonly constantPerM: Figure
    /** 95 % uncertainty of the head [%], and of reading the needle. */
    readonly uncertaintyPercent?: number
    readonly readingUncertaintyMPerS?: number
  }
  readonly motor?: {
    readonly stepPerS?: number
    readonly lowestPerS?: number
    readonly lagS?: number
    readonly updateS?: number
  }
}

export type PickUpOption = SignalOption | DrivenHead
export type PickUpKind = PickUpOption['kind']
