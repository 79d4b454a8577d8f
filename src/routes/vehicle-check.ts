import { withPointer } from '../domain/errors.js'
import type { SizeTable } from '../domain/tires/size-table.js'
import { vehicleReport } from '../domain/vehicles/report.js'
import type { RecordedPart } from '../domain/vehicles/vehicle.js'
import { VehicleCheckAnswer, type VehicleCheckShape } from '../schemas/vehicle-checks.js'
import { VehicleProfile, type VehicleProfileShape } from '../schemas/vehicles.js'
import { answering } from './calculation.js'
import { constantUnitsOf } from './given-vehicle.js'
import type { RouteOptions } from './options.js'
import { remedyParts } from './remedy-parts.js'

const answer = answering({ body: VehicleProfile, answer: VehicleCheckAnswer, compute: vehicleReport })

/** The check of a vehicle, with the recorded parts that may correct it. */
export const checkedVehicle = (
  profile: VehicleProfileShape,
  sizeTable: SizeTable,
  parts: readonly RecordedPart[] = [],
): VehicleCheckShape => answer(profile, sizeTable, { parts, constantUnits: constantUnitsOf(profile) })

/**
 * Checks a vehicle, with the recorded parts of the store that may correct it.
 *
 * @param pointer - JSON Pointer of the profile if it is not the whole body
 */
export async function vehicleCheck(
  { store, sizeTable }: Pick<RouteOptions, 'store' | 'sizeTable'>,
  profile: VehicleProfileShape,
  pointer?: string,
): Promise<VehicleCheckShape> {
  const parts = await remedyParts(store, profile)
  const check = () => checkedVehicle(profile, sizeTable, parts)
  return pointer === undefined ? check() : withPointer(pointer, check)
}
