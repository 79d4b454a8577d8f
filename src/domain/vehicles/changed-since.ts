import { computesTheSame, evaluateVehiclePath } from './evaluate.js'
import type { Vehicle } from './vehicle.js'

/** Values of a path, computed from its parts, that a calibration depends on. */
export interface CalibratedState {
  /** Of tire, stages and head together. */
  readonly indicatedPerTrue: number
  /** At which the head reads true. */
  readonly constantPerM: number
}

/**
 * Values of a path that a calibration depends on, from its parts, whatever was measured.
 *
 *     indicated over true computed from tire, stages and head;  constant of the head
 *
 * @param vehicle - The vehicle
 * @param index - Its path
 * @returns Both values; the constant in turns or pulses per meter
 * @throws {DomainError} `path-order`, `head-does-not-fit-path`
 * @see the functions it is made of: `evaluateVehiclePath`
 * @example calibratedState(EXAMPLE_VEHICLE, 0).constantPerM === EXAMPLE_VEHICLE.paths[0].head.constantPerM.value // true
 */
export function calibratedState(vehicle: Vehicle, index: number): CalibratedState {
  const { path, computed } = evaluateVehiclePath(vehicle, index)
  return {
    indicatedPerTrue: computed.indicatedPerTrue.value,
    constantPerM: path.head.constantPerM.value,
  }
}

/**
 * What was changed on a car since a calibration, so that the calibration no longer applies.
 *
 *     bench: the constant of the head;  road: indicated over true;  each the same within 0.1 %
 *
 * @param on - Where the calibration was made: of the head alone, or of the whole path
 * @param now - The path now
 * @param then - The path when the calibration was made
 * @returns What may have been changed, in words; undefined if nothing was
 * @see the functions it is made of: `computesTheSame`, whose limit is common practice
 * @example changedSince('bench', { indicatedPerTrue: 1, constantPerM: 0.6 }, { indicatedPerTrue: 1, constantPerM: 0.5 }) // "the head"
 * @example changedSince('bench', { indicatedPerTrue: 1, constantPerM: 0.5 }, { indicatedPerTrue: 2, constantPerM: 0.5 }) === undefined // true
 * @example changedSince('road', { indicatedPerTrue: 1, constantPerM: 0.5 }, { indicatedPerTrue: 2, constantPerM: 0.5 }) // "a tire, a stage or the head"
 */
export function changedSince(
  on: 'bench' | 'road',
  now: CalibratedState,
  then: CalibratedState,
): string | undefined {
  if (on === 'bench') return computesTheSame(now.constantPerM, then.constantPerM) ? undefined : 'the head'
  return computesTheSame(now.indicatedPerTrue, then.indicatedPerTrue)
    ? undefined
    : 'a tire, a stage or the head'
}
