import { decoder } from '../codec/decoder.js'
import { type TireGeometry, tireGeometryAt } from '../domain/tires/geometry.js'
import type { SizeTable } from '../domain/tires/size-table.js'
import { Tire, type TireShape } from '../schemas/tires.js'

const tireOf = decoder(Tire)

/** Geometry of the tire at `pointer` in the request. */
export const geometryAt = (pointer: string, wire: TireShape, table: SizeTable): TireGeometry =>
  tireGeometryAt(pointer, tireOf(wire), table)
