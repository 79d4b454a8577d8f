import type { Head, Response, Shaft, Stage } from '../drive-paths/path.js'
import type { FitReport } from '../fits/support.js'
import type { RuleVerdict } from '../gauges/rule-verdicts.js'
import type { NamedRule, RuleFrame } from '../gauges/verdicts.js'
import type { Figure } from '../measure/figure.js'
import type { Mutable } from '../mutable.js'
import type { TireGeometry } from '../tires/geometry.js'

export type Axle = 'front' | 'rear'
export type SpeedUnit = 'mph' | 'kmh'

/** Timing of a speed reading from pulses. */
export interface PulseTiming {
  readonly zeroTimeoutS?: number
  readonly timerTickS?: number
  /** Smoothing factor of an exponential filter on the periods, 1 for none. */
  readonly smoothingFactor?: number
  /** Periods that a median or moving average spans, 1 for none. */
  readonly averagedPeriods?: number
}

/** Values measured on the car; they replace those computed from its parts. */
export interface MeasuredPath {
  readonly outputPerM?: Figure
  readonly indicatedPerTrue?: Figure
  readonly offsetMPerS?: Figure
  /** Values computed from tire, stages and head when the measurement was made; the measured values are valid while these are unchanged. */
  readonly computed?: { readonly outputPerM?: number; readonly indicatedPerTrue?: number }
}

export interface VehiclePath {
  readonly name: string
  readonly axle: Axle
  readonly stages: readonly Stage[]
  readonly head: Head
  /** Unit in which the constant of its head was given; absent: not known. */
  readonly constantUnit?: 'perMile' | 'perKm'
  readonly unit: SpeedUnit
  readonly pulse?: PulseTiming
  readonly measured?: MeasuredPath
}

/** A path with other measured values: one literal, since copies by spread are slow and a remedy takes several. */
export const withMeasured = (path: VehiclePath, measured: MeasuredPath | undefined): VehiclePath =>
  pathFrom(path, path.stages, path.head, measured)

/** A path with other stages, head and measured values. */
export const pathFrom = (
  { name, axle, unit, constantUnit, pulse }: VehiclePath,
  stages: readonly Stage[],
  head: Head,
  measured: MeasuredPath | undefined,
): VehiclePath => {
  const path: Mutable<VehiclePath> = { name, axle, stages, head, unit }
  if (constantUnit !== undefined) path.constantUnit = constantUnit
  if (pulse !== undefined) path.pulse = pulse
  if (measured !== undefined) path.measured = measured
  return path
}

/** A recorded part that may go into a path. */
export interface RecordedPart {
  readonly id: string
  readonly kind:
    | 'driven-gear'
    | 'driving-gear'
    | 'adapter'
    | 'angle-drive'
    | 'pulse-ring'
    | 'pulse-scaler'
    | 'head'
  readonly name: string
  readonly teeth?: number
  readonly ratio?: number
  readonly pulsesPerTurn?: number
  readonly input?: 'turns' | 'pulses'
  readonly constantPerM?: Figure
  /** Support by fit reports for this make and model, 0 to 1, 0.5 when balanced; absent without fit reports. */
  readonly support?: number
  /** The first few fit reports, including contradicting ones. */
  readonly reports?: readonly FitReport[]
}

/** Cost of a kind of remedy, as far as the caller gives it. */
export interface RemedyCost {
  readonly price?: number
  readonly minutes?: number
}

export interface Vehicle {
  readonly tires: Readonly<Record<Axle, TireGeometry>>
  readonly paths: readonly VehiclePath[]
  readonly rule: NamedRule
  readonly topSpeedMPerS?: number
  /** True speeds of the tables; default: the round speeds of each dial. */
  readonly rowsMPerS?: readonly number[]
  /** Cost of remedies by action, and the price per hour of work. */
  readonly costs?: Readonly<Partial<Record<string, RemedyCost>>>
  readonly pricePerHour?: number
}

export type ReadingBasis = 'computed' | 'measured-output' | 'measured-reading'

/** What no change of a part alters on a path. */
export interface PathFrame {
  readonly index: number
  /** Turns per distance of the wheels of its axle [1/m], each input named for the axle. */
  readonly turnsPerM: Figure
  /** Round speeds of its dial. */
  readonly speedsMPerS: readonly number[]
  /** Those of them at which the dial is judged. */
  readonly judgedMPerS: readonly number[]
  readonly rule: RuleFrame
}

/** What a path reads in its frame. */
export interface PathReading {
  /** The path, with only the measured values that are still valid. */
  readonly path: VehiclePath
  /** Computed value now / at the time of measurement, for a measured value that is no longer valid. */
  readonly outdated?: number
  readonly basis: ReadingBasis
  readonly outputPerM: Figure
  readonly line: Response
  /** The reading computed from the parts, regardless of measurements. */
  readonly computed: Response
}

/** One evaluated path, before any finding. */
export interface EvaluatedPath extends PathReading {
  readonly frame: PathFrame
  readonly index: number
  readonly shafts: readonly Shaft[]
  /** Round speeds of its dial, at which the reading is judged. */
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
