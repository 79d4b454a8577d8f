import { DomainError } from '../domain/errors.js'
import type { SizeTable } from '../domain/tires/size-table.js'
import { evaluateVehiclePath } from '../domain/vehicles/evaluate.js'
import type { FirmwareShape } from '../schemas/firmware.js'
import type { FirmwareQuery } from '../schemas/vehicle-firmware.js'
import type { VehicleProfileShape } from '../schemas/vehicles.js'
import { firmwareOut } from './firmware.js'
import { vehicleOf } from './vehicles.js'

const DEFAULT_BITS = 32

/** The path that is asked for by its name, or the first whose head takes pulses. */
function pulsePathIndex({ paths }: VehicleProfileShape, name: string | undefined): number {
  const index = paths.findIndex((path) =>
    name === undefined ? path.head.input === 'pulses' : path.name === name,
  )
  if (index >= 0 && paths[index]!.head.input === 'pulses') return index
  const known = paths.filter(({ head }) => head.input === 'pulses').map((path) => path.name)
  const detail =
    known.length === 0
      ? 'no path of this vehicle carries pulses to its head: firmware constants need a path with a pulse-ring stage and a head with input pulses'
      : `path: expected one of ${known.join(', ')}, got ${name}`
  throw new DomainError('needs-another-field', detail, { pointer: '/path', in: 'query' })
}

/** What the profile must say for a program to be written, or a 422 that says where. */
function needed<T>(value: T | undefined, pointer: string, what: string): T {
  if (value !== undefined) return value
  throw new DomainError('needs-another-field', `${pointer}: a program needs ${what}; add it to the profile`, {
    pointer,
  })
}

/** The answer of `GET /v1/vehicles/{id}/firmware-constants`: of what the profile says, measured pulses before computed ones. */
export function vehicleFirmwareOut(
  profile: VehicleProfileShape,
  table: SizeTable,
  query: FirmwareQuery,
): FirmwareShape {
  const vehicle = vehicleOf(profile, table)
  const index = pulsePathIndex(profile, query.path)
  const { head, pulse, axle } = profile.paths[index]!
  const { outputPerM, basis } = evaluateVehiclePath(vehicle, index)
  const at = `/paths/${index}/pulse`
  const timer: Parameters<typeof firmwareOut>[1] = {
    timerTick: needed(pulse?.timerTick, `${at}/timerTick`, 'the step of its timer'),
    zeroTimeout: needed(pulse?.zeroTimeout, `${at}/zeroTimeout`, 'a zero timeout'),
    topSpeed: needed(profile.topSpeed ?? head.dialMax, '/topSpeed', 'a top speed'),
    counterBits: query.counterBits ?? DEFAULT_BITS,
    integerBits: query.integerBits ?? DEFAULT_BITS,
    odometerStep: head.unit === 'mph' ? { mi: 0.1 } : { km: 0.1 },
  }
  if (query.speedParts !== undefined) timer.speedParts = query.speedParts
  if (pulse?.filter?.factor !== undefined) timer.filterFactor = pulse.filter.factor
  const { sources, notes } = vehicle.tires[axle]
  const supply =
    basis === 'measured-output'
      ? { pulsesPerM: outputPerM, sources: ['caller-reading' as const], notes: [] }
      : { pulsesPerM: outputPerM, sources: [...sources, 'eu-165-2014' as const], notes }
  return firmwareOut(supply, timer)
}
