import type { Vehicle, VehicleChange, VehicleRevision } from '../db/store.js'
import type { VehicleProfileShape } from '../schemas/vehicles.js'

/** A time of the store as answers give it. */
export const instant = (ms: number) => new Date(ms).toISOString()

/** The profile of a stored vehicle. */
export const profileOf = (vehicle: Vehicle): VehicleProfileShape => JSON.parse(vehicle.profile)

/** JSON text of a vehicle: the profile's text goes out as it is kept, unread. */
export function vehicleText({ id, version, createdAtMs, changedAtMs, profile }: Vehicle): string {
  return `{"id":"${id}","version":${version},"createdAt":"${instant(createdAtMs)}","changedAt":"${instant(changedAtMs)}",${profile.slice(1)}`
}

/** JSON text of a page: items that are JSON text already, and the cursor of what follows. */
export function pageText(name: string, items: readonly string[], next: string | undefined): string {
  return `{"${name}":[${items.join(',')}]${next === undefined ? '' : `,"next":"${next}"`}}`
}

export function changeText({ version, change, atMs, keyId, keyLabel }: VehicleChange): string {
  return JSON.stringify({ version, change, at: instant(atMs), key: { id: keyId, label: keyLabel } })
}

export function revisionText(revision: VehicleRevision): string {
  const text = changeText(revision)
  const { vehicle } = revision
  return vehicle === undefined ? text : `${text.slice(0, -1)},"vehicle":${vehicleText(vehicle)}}`
}
