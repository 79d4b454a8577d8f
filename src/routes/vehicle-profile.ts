import { decoder } from '../codec/decoder.js'
import type { SizeTable } from '../domain/tires/size-table.js'
import { type ConstantUnits, vehicleOf as vehicleOfProfile } from '../domain/vehicles/given-vehicle.js'
import type { Vehicle } from '../domain/vehicles/vehicle.js'
import { VehicleProfile, type VehicleProfileShape } from '../schemas/vehicles.js'

const decode = decoder(VehicleProfile)

/** Units in which the constants of the heads are given: one that is wrong explains a reading far from true. */
export const constantUnitsOf = ({ paths }: VehicleProfileShape): ConstantUnits =>
  paths.map(({ head }) => ('perMile' in head.constant ? 'perMile' : 'perKm'))

/** The domain form of a vehicle profile from a request. */
export const vehicleOf = (profile: VehicleProfileShape, table: SizeTable): Vehicle =>
  vehicleOfProfile(decode(profile), table, constantUnitsOf(profile))
