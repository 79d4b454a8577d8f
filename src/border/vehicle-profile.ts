import { DomainError } from '../domain/errors.js'
import type { VehicleProfileShape } from '../schemas/vehicles.js'

/**
 * A profile that a request gives: its paths are told apart by their names, by calibrations too. One that is kept from before
 * this was looked at can still be read and checked.
 *
 * @throws {DomainError} `path-repeated`
 */
export function profileGiven(profile: VehicleProfileShape): VehicleProfileShape {
  const names = profile.paths.map(({ name }) => name)
  for (const [index, name] of names.entries()) {
    if (names.indexOf(name) < index) {
      throw new DomainError(
        'path-repeated',
        `paths: two paths are called "${name}"; give each a name of its own`,
        { pointer: `/paths/${index}/name`, name },
      )
    }
  }
  return profile
}
