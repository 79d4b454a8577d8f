import type { Head, Response, Shaft, Stage } from '../drive-paths/path.js'
import type { FitReport } from '../fits/support.js'
import type { NamedRule, RuleVerdict } from '../gauges/verdicts.js'
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
  /** Output and reading computed from tire, stages and head when it was measured: the measurement stands while they compute to the same. */
  readonly computed?: { readonly outputPerM?: number; readonly indicatedPerTrue?: number }
}

export interface VehiclePath {
  readonly name: string
  readonly axle: Axle
  readonly stages: readonly Stage[]
  readonly head: Head
  /** Unit in which the constant of its head was given; left out: not known. */
  readonly constantUnit?: 'perMile' | 'perKm'
  readonly unit: SpeedUnit
  readonly pulse?: PulseTiming
  readonly measured?: MeasuredPath
}

/** A part that somebody recorded and that might stand in a path. */
export interface RecordedPart {
  readonly id: string
  readonly kind:
    | 'driven-gear'
    | 'driving-gear'
    | 'ratio-adapter'
    | 'angle-drive'
    | 'pulse-ring'
    | 'pulse-scaler'
    | 'head'
  readonly name: string
  readonly teeth?: number
  readonly ratio?: number
  readonly pulsesPerTurn?: number
  readonly takes?: 'turns' | 'pulses'
  readonly constantPerM?: Figure
  /** How well fit reports about this make and model support it, 0 to 1, 0.5 when even; absent when there are none. */
  readonly support?: number
  /** The reports themselves, contradictions among them; the first few. */
  readonly reports?: readonly FitReport[]
}

/** What a kind of remedy costs, as far as the caller knows. */
export interface RemedyCost {
  readonly price?: number
  readonly minutes?: number
}

export interface Vehicle {
  readonly tires: Readonly<Record<Axle, TireGeometry>>
  readonly paths: readonly VehiclePath[]
  readonly rule: NamedRule
  readonly topSpeedMPerS?: number
  /** True speeds of the tables; left out: the round ones of each dial. */
  readonly rowsMPerS?: readonly number[]
  /** Cost of remedies by action, and the price of an hour. */
  readonly costs?: Readonly<Partial<Record<string, RemedyCost>>>
  readonly pricePerHour?: number
}

export type ReadingBasis = 'computed' | 'measured-output' | 'measured-reading'

/** One path with what it does, before any finding. */
export interface EvaluatedPath {
  /** The path; of what was measured, that which still stands. */
  readonly path: VehiclePath
  /** By how much the parts promise another thing than when it was measured, of what no longer stands: now / then. */
  readonly outdated?: number
  readonly index: number
  readonly basis: ReadingBasis
  readonly shafts: readonly Shaft[]
  readonly outputPerM: Figure
  readonly line: Response
  /** The reading that the parts promise, whatever was measured. */
  readonly computed: Response
  /** Round speeds of its dial, at which it is judged. */
  readonly speedsMPerS: readonly number[]
  /** True speeds of its table. */
  readonly rowsMPerS: readonly number[]
  readonly verdict?: RuleVerdict
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
