import type { Head, Response, Shaft, Stage } from '../drive-paths/path.js'
import type { NamedRule, Verdict } from '../gauges/verdicts.js'
import type { Figure } from '../measure/figure.js'
import type { TireGeometry } from '../tires/geometry.js'

export type Axle = 'front' | 'rear'
export type SpeedUnit = 'mph' | 'kmh'

/** Timing of an electronic reading. */
export interface PulseTiming {
  readonly zeroTimeoutS?: number
  readonly timerTickS?: number
  /** Smoothing factor of an exponential filter on the periods, 1 for none. */
  readonly smoothingFactor?: number
  /** Periods that a median or moving average spans, 1 for none. */
  readonly averagedPeriods?: number
}

/** What was measured on the car and takes the place of what its parts promise. */
export interface MeasuredPath {
  readonly outputPerM?: Figure
  readonly indicatedPerTrue?: Figure
  readonly offsetMPerS?: Figure
}

export interface VehiclePath {
  readonly name: string
  readonly axle: Axle
  readonly stages: readonly Stage[]
  readonly head: Head
  readonly unit: SpeedUnit
  readonly pulse?: PulseTiming
  readonly measured?: MeasuredPath
}

export interface Vehicle {
  readonly tires: Readonly<Record<Axle, TireGeometry>>
  readonly paths: readonly VehiclePath[]
  readonly rule: NamedRule
  readonly topSpeedMPerS?: number
}

export type ReadingBasis = 'computed' | 'measured-output' | 'measured-reading'

/** One path with what it does, before any finding. */
export interface EvaluatedPath {
  readonly path: VehiclePath
  readonly index: number
  readonly basis: ReadingBasis
  readonly shafts: readonly Shaft[]
  readonly outputPerM: Figure
  readonly line: Response
  /** The reading that the parts promise, whatever was measured. */
  readonly computed: Response
  readonly speedsMPerS: readonly number[]
  readonly verdict?: Verdict
}

export type FindingLevel = 'fail' | 'caution' | 'info'

export interface Finding {
  readonly code: string
  readonly level: FindingLevel
  readonly text: string
  /** Where in the profile, as a JSON Pointer. */
  readonly pointer: string
  readonly remedy?: string
}
