import { DomainError } from '../domain/errors.js'
import type { VehicleProfileShape } from '../schemas/vehicles.js'

/**
 * A profile that a request gives: its paths are identified by their names, also in calibrations. A profile stored before
 * this check existed can still be read and evaluated.
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
