import type { Figure } from '../measure/figure.js'
import type { MotorCheck, MotorPoint } from './driven-head.js'
import type { WindingAtWork } from './motor-winding.js'

/** What a motor does on a head. Speeds are those on the dial. */
export interface MotorOnHead {
  readonly points: readonly MotorPoint[]
  readonly checks: readonly MotorCheck[]
  readonly controlStepMPerS: Figure
  readonly lowestSteadySpeedMPerS: Figure
  /** Of a DC motor that is controlled by its voltage. */
  readonly readingShiftMPerS?: Figure
  /** Of a DC motor. */
  readonly constantNmPerA?: Figure
  /** Of a DC motor. */
  readonly stallCurrentA?: Figure
  readonly winding?: WindingAtWork
}
