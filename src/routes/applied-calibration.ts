import type { Calibration } from '../db/store.js'
import type { SizeTable } from '../domain/tires/size-table.js'
import { calibratedState, changedSince } from '../domain/vehicles/changed-since.js'
import { RequestProblem } from '../http/request-problem.js'
import type { MeasureIn } from '../schemas/measure-shapes.js'
import type { CalibrationResultShape, VehicleCalibrationShape } from '../schemas/vehicle-calibrations.js'
import type { VehicleProfileShape } from '../schemas/vehicles.js'

import { vehicleOf } from './given-vehicle.js'

type Path = VehicleProfileShape['paths'][number]

/** Where the path of that name stands in a profile. @throws {RequestProblem} `path-not-in-vehicle` */
export function pathIndex({ paths }: VehicleProfileShape, name: string): number {
  const index = paths.findIndex((path) => path.name === name)
  if (index >= 0) return index
  const names = paths.map((path) => path.name).join(', ')
  throw new RequestProblem('path-not-in-vehicle', `The vehicle has no path ${name}; it has ${names}.`, [
    { in: 'body', pointer: '#/path', code: 'path-not-in-vehicle', detail: `expected one of ${names}` },
  ])
}

/** The offset of a calibration in the form of a profile, correlated with its scale; none if the fit has none. */
function offsetOf({ fit, offset, correlation }: CalibrationResultShape): {
  offset?: MeasureIn<'speed'>
  correlation?: number
} {
  if (fit === 'proportional') return {}
  const { kmh, plusMinus } = offset
  return plusMinus === undefined
    ? { offset: { kmh } }
    : { offset: { kmh, plusMinus: plusMinus.kmh }, correlation }
}

/** The head with the error that its bench showed, in place of any it had. */
function withHeadError({ head, ...path }: Path, result: CalibrationResultShape): Path {
  const { offset: _offset, correlation: _correlation, ...rest } = head
  return {
    ...path,
    head: {
      ...rest,
      scalePercent: result.scalePercent,
      scalePercentPlusMinus: result.scalePercentPlusMinus,
      ...offsetOf(result),
    },
  }
}

/** The path with the reading that the road showed, in place of the computed one, and what its parts compute to. */
function withReading(
  { measured = {}, ...path }: Path,
  result: CalibrationResultShape,
  indicatedPerTrue: number,
): Path {
  const { offset: _offset, correlation: _correlation, ...rest } = measured
  return {
    ...path,
    measured: {
      ...rest,
      indicatedPerTrue: {
        value: 1 + result.scalePercent / 100,
        plusMinus: result.scalePercentPlusMinus / 100,
      },
      // Written out: a proportional fit found that the reading has none.
      offset: { kmh: 0 },
      ...offsetOf(result),
      computed: { ...measured.computed, indicatedPerTrue },
    },
  }
}

const outdated = (path: string, what: string) =>
  new RequestProblem(
    'calibration-outdated',
    `The newest accepted calibration of ${path} was recorded before ${what} was changed: it does not apply to the car as it is now. Calibrate again.`,
    [{ in: 'body', pointer: '#/path', code: 'calibration-outdated', detail: `${what} was changed since` }],
  )

/**
 * What a calibration makes of a profile: one of the bench becomes the head's own error, one of the road the measured
 * reading of the whole path.
 *
 * @param then - The profile when the calibration was recorded
 * @throws {RequestProblem} `calibration-outdated` when the car has changed since in what was calibrated
 */
export function calibrated(
  profile: VehicleProfileShape,
  then: VehicleProfileShape,
  calibration: Calibration,
  table: SizeTable,
): VehicleProfileShape {
  const { path: name } = calibration
  const { on }: VehicleCalibrationShape = JSON.parse(calibration.request)
  const result: CalibrationResultShape = JSON.parse(calibration.result)
  const index = pathIndex(profile, name)
  const stateOf = (one: VehicleProfileShape) => calibratedState(vehicleOf(one, table), pathIndex(one, name))
  const now = stateOf(profile)
  const changed = changedSince(on, now, stateOf(then))
  if (changed !== undefined) throw outdated(name, changed)
  const path = profile.paths[index]!
  const applied =
    on === 'bench' ? withHeadError(path, result) : withReading(path, result, now.indicatedPerTrue)
  return { ...profile, paths: profile.paths.with(index, applied) }
}
