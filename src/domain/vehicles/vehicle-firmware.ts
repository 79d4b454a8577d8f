import { DomainError } from '../errors.js'
import { toSi } from '../measure/units.js'
import type { Mutable } from '../mutable.js'
import {
  type Firmware,
  type FirmwareTimer,
  firmware,
  type IntegerBits,
  type PulseSupply,
  type SpeedParts,
} from '../pulses/firmware.js'
import type { SizeTable } from '../tires/size-table.js'
import { evaluateVehiclePath } from './evaluate.js'
import { type GivenPath, type GivenVehicle, vehicleOf } from './given-vehicle.js'
import type { Vehicle } from './vehicle.js'

/** What a profile does not say about the program. */
export interface ProgramSettings {
  /** Name of the path; left out: the first whose head takes pulses. */
  readonly path?: string
  /** Left out: 32. */
  readonly counterBits?: number
  readonly integerBits?: IntegerBits
  readonly speedParts?: SpeedParts
}

const DEFAULT_BITS = 32

/** Step of an odometer: a tenth of the unit of its dial. [m] */
const ODOMETER_STEP_M = { mph: toSi('distance', 'mi', 0.1), kmh: toSi('distance', 'km', 0.1) } as const

/** The path that is asked for by its name, or the first whose head takes pulses. */
function pulsePathIndex({ paths }: GivenVehicle, name: string | undefined): number {
  const index = paths.findIndex((path) =>
    name === undefined ? path.head.input === 'pulses' : path.name === name,
  )
  if (index >= 0 && paths[index]!.head.input === 'pulses') return index
  const known = paths.filter(({ head }) => head.input === 'pulses').map((path) => path.name)
  if (known.length === 0) {
    throw new DomainError(
      'no-pulse-path',
      'paths: no path of this vehicle carries pulses to its head; firmware constants need a path with a pulse-ring stage and a head with input pulses',
      { pointer: '/paths' },
    )
  }
  throw new DomainError('no-pulse-path', `path: expected one of ${known.join(', ')}, got ${name}`, {
    pointer: '/path',
    in: 'query',
  })
}

/** What the profile must say for a program to be written. */
function needed<T>(value: T | undefined, pointer: string, what: string): T {
  if (value !== undefined) return value
  throw new DomainError('needs-another-field', `${pointer}: a program needs ${what}; add it to the profile`, {
    pointer,
  })
}

function timerOf(
  { head, pulse }: GivenPath,
  topSpeedMPerS: number | undefined,
  pointer: string,
  settings: ProgramSettings,
): FirmwareTimer {
  const timer: Mutable<FirmwareTimer> = {
    timerTickS: needed(pulse?.timerTickS, `${pointer}/timerTick`, 'the step of its timer'),
    zeroTimeoutS: needed(pulse?.zeroTimeoutS, `${pointer}/zeroTimeout`, 'a zero timeout'),
    topSpeedMPerS: needed(topSpeedMPerS ?? head.dialMaxMPerS, '/topSpeed', 'a top speed'),
    counterBits: settings.counterBits ?? DEFAULT_BITS,
    integerBits: settings.integerBits ?? DEFAULT_BITS,
    odometerStepM: ODOMETER_STEP_M[head.unit],
  }
  if (settings.speedParts !== undefined) timer.speedParts = settings.speedParts
  if (pulse?.filter?.factor !== undefined) timer.filterFactor = pulse.filter.factor
  return timer
}

/** Pulses of a path: measured ones before computed ones. */
function supplyOf(vehicle: Vehicle, index: number, { axle }: GivenPath): PulseSupply {
  const { outputPerM, basis } = evaluateVehiclePath(vehicle, index)
  if (basis === 'measured-output') return { pulsesPerM: outputPerM, sources: ['caller-reading'], notes: [] }
  const { sources, notes } = vehicle.tires[axle]
  return { pulsesPerM: outputPerM, sources: [...sources, 'eu-165-2014'], notes }
}

/**
 * Firmware constants for a path of a vehicle that carries pulses: of what its profile says, measured pulses before computed ones.
 *
 *     step of the odometer = 0.1 mi or 0.1 km, as the dial;  top speed of the vehicle, or else the end of the dial
 *
 * @param profile - The vehicle; the path needs its timer and timeout
 * @param settings - Path, widths, parts of a unit
 * @param sizeTable - Finds tire sizes that no formula covers
 * @returns The constants of `firmware`
 * @throws {DomainError} `no-pulse-path` for a profile without pulses or without the named path of pulses, `needs-another-field` for one without timer,
 *   timeout or top speed; those of `firmware` and `vehicleOf`
 * @see EU 165/2014, Annex I (w = pulses per turn/circumference); `firmware`
 * @example vehicleFirmware({ name: 'Quillock', tires: { front: { turnsPerM: exact(0.5) }, rear: { turnsPerM: exact(0.5) } }, paths: [{ name: 'speedometer', axle: 'rear', stages: [{ kind: 'pulse-ring', pulsesPerTurn: 8 }], head: { input: 'pulses', constantPerM: exact(4), unit: 'kmh', dialMaxMPerS: 50 }, pulse: { timerTickS: 1e-6, zeroTimeoutS: 0.45 } }], rule: 'un-r39' }, {}, builtInSizes).kmh.floating // 900000 ± 1e-6
 */
export function vehicleFirmware(
  profile: GivenVehicle,
  settings: ProgramSettings,
  sizeTable: SizeTable,
): Firmware {
  const vehicle = vehicleOf(profile, sizeTable)
  const index = pulsePathIndex(profile, settings.path)
  const path = profile.paths[index]!
  const supply = supplyOf(vehicle, index, path)
  return firmware(supply, timerOf(path, profile.topSpeedMPerS, `/paths/${index}/pulse`, settings))
}
