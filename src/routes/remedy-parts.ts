import { Type } from '@sinclair/typebox'
import { decoder } from '../codec/decoder.js'
import type { RemedyPart, Store } from '../db/store.js'
import { REMEDY_KINDS, withReports } from '../domain/vehicles/recorded-parts.js'
import type { RecordedPart } from '../domain/vehicles/vehicle.js'
import { PathPart } from '../schemas/parts.js'
import type { VehicleProfileShape } from '../schemas/vehicles.js'
import { reportOf } from './fit-records.js'
import { partOf } from './part-records.js'

/** Most parts of each kind considered in a check: first those that fit the vehicle, then the newest. */
const MAX_OF_A_KIND = 50

const pathPartsOf = decoder(Type.Array(PathPart))

/** Stored parts of the kinds that may be in a path, as input of a vehicle check. */
export function recordedParts(remedies: readonly RemedyPart[]): RecordedPart[] {
  const parts = pathPartsOf(remedies.map(({ part }) => partOf(part)))
  return remedies.map(({ part, reports }, index) =>
    withReports({ ...parts[index]!, id: part.id } as RecordedPart, reports.map(reportOf)),
  )
}

/** The recorded parts that may correct a reading of this vehicle. */
export async function remedyParts(
  { parts }: Store,
  { make, model }: VehicleProfileShape,
): Promise<RecordedPart[]> {
  const vehicle = make === undefined || model === undefined ? undefined : { make, model }
  return recordedParts(await parts.remedies(REMEDY_KINDS, vehicle, MAX_OF_A_KIND))
}
