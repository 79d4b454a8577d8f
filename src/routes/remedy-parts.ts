import { REMEDY_KINDS, recordedPart } from '../border/parts.js'
import type { Store } from '../db/store.js'
import type { RecordedPart } from '../domain/vehicles/vehicle.js'
import type { VehicleProfileShape } from '../schemas/vehicles.js'

/** Most parts of each kind considered in a check: first those that fit the vehicle, then the newest. */
const MAX_OF_A_KIND = 50

/** The recorded parts that may correct a reading of this vehicle. */
export async function remedyParts(
  { parts }: Store,
  { make, model }: VehicleProfileShape,
): Promise<RecordedPart[]> {
  const vehicle = make === undefined || model === undefined ? undefined : { make, model }
  return (await parts.remedies(REMEDY_KINDS, vehicle, MAX_OF_A_KIND)).map(recordedPart)
}
