import { vehicleCheckOut } from '../border/vehicles.js'
import { withPointer } from '../domain/errors.js'
import type { VehicleCheckShape, VehicleProfileShape } from '../schemas/vehicles.js'
import type { RouteOptions } from './options.js'
import { remedyParts } from './remedy-parts.js'

/**
 * Checks a vehicle, with the recorded parts that may correct it.
 *
 * @param pointer - JSON Pointer of the profile if it is not the whole body
 */
export async function vehicleCheck(
  { store, sizeTable }: Pick<RouteOptions, 'store' | 'sizeTable'>,
  profile: VehicleProfileShape,
  pointer?: string,
): Promise<VehicleCheckShape> {
  const parts = await remedyParts(store, profile)
  const check = () => vehicleCheckOut(profile, sizeTable, parts)
  return pointer === undefined ? check() : withPointer(pointer, check)
}
