import { evaluateVehiclePath } from './evaluate.js'
import { vehicleFindings } from './findings.js'
import { type Remedy, vehicleRemedies } from './remedies.js'
import type { EvaluatedPath, Finding, RecordedPart, Vehicle } from './vehicle.js'

export interface VehicleCheck {
  readonly paths: readonly EvaluatedPath[]
  readonly findings: readonly Finding[]
  readonly remedies: readonly Remedy[]
}

/**
 * Checks a vehicle: what each dial reads, what is wrong with it, and what corrects it.
 *
 *     paths → findings (most severe first) → remedies (best first)
 *
 * @param vehicle - The vehicle
 * @param parts - Recorded parts that may go into its paths
 * @returns The evaluated paths, the findings and the remedies
 * @throws {DomainError} `path-order`, `head-does-not-fit-path`, `rule-needs-dial-max`, each with its pointer in the profile
 * @see the functions it is made of: `evaluateVehiclePath`, `vehicleFindings`, `vehicleRemedies`
 * @example checkVehicle(EXAMPLE_VEHICLE).paths[0].line.indicatedPerTrue.value // 0.9842 ± 1e-9
 */
export function checkVehicle(vehicle: Vehicle, parts: readonly RecordedPart[] = []): VehicleCheck {
  const paths = vehicle.paths.map((_, index) => evaluateVehiclePath(vehicle, index))
  return {
    paths,
    findings: vehicleFindings(vehicle, paths),
    remedies: vehicleRemedies(vehicle, paths, parts),
  }
}
