import { writing } from '../codec/answer.js'
import { decoder } from '../codec/decoder.js'
import { compareTires } from '../domain/tires/comparison.js'
import { type TireGeometry, tireGeometryAt } from '../domain/tires/geometry.js'
import type { SizeTable } from '../domain/tires/size-table.js'
import { ComparisonAnswer, Tire, type TireShape } from '../schemas/tires.js'

const tireOf = decoder(Tire)

/** Geometry of the tire at `pointer` in the request. */
export const geometryAt = (pointer: string, wire: TireShape, table: SizeTable): TireGeometry =>
  tireGeometryAt(pointer, tireOf(wire), table)

/** The answer of `POST /v1/tires/comparison`. */
export const comparisonOut = writing({ answer: ComparisonAnswer, compute: compareTires })
