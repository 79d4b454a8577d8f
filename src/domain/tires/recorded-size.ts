import { DomainError } from '../errors.js'
import type { Figure } from '../measure/figure.js'
import type { Mutable } from '../mutable.js'
import { type Construction, parseTireSize } from './size.js'
import { builtInSizes, type TabulatedSize } from './size-table.js'

/** Maximum diameter of a recorded size [m]. */
const MAX_DIAMETER_M = 10

/** A row of the table of sizes that users keep. */
export interface SizeRow {
  readonly size: string
  readonly construction: Construction
  /** New, inflated and unloaded. */
  readonly overallDiameterM: Figure
  readonly sectionWidthM?: Figure
}

/** A length in millimeters for messages. */
const millimeters = (lengthM: number) => Number((lengthM * 1000).toPrecision(6))

/**
 * What a row of users means to computations: the diameter of a size that its marking alone does not give.
 *
 * @param designation - Size in the form of `TireSize.designation`
 * @param row - Its diameter and section width [m]
 * @returns The row of a `SizeTable`, with the uncertainty of the diameter
 * @see definitions
 * @example tabulatedSize('G78-15', { overallDiameterM: exact(0.717) }).source // "stored-tire-size"
 */
export function tabulatedSize(
  designation: string,
  row: Pick<SizeRow, 'overallDiameterM' | 'sectionWidthM'>,
): TabulatedSize {
  const { overallDiameterM, sectionWidthM } = row
  const size: Mutable<TabulatedSize> = { designation, overallDiameterM, source: 'stored-tire-size' }
  if (sectionWidthM !== undefined) size.sectionWidthM = sectionWidthM.value
  return size
}

/**
 * Reads a row for the table of sizes that users keep, and refuses one that would never be used or that no tire can have.
 *
 *     rim diameter < D <= 10 m;  not in the built-in table, which has priority
 *
 * D is the overall diameter [m].
 *
 * @param row - The row as given
 * @returns The row by the designation of its size
 * @throws {DomainError} those of `parseTireSize`; `tire-size-built-in`, `out-of-range`
 * @see a choice of this service
 * @example recordedSize({ size: 'g78 - 15', construction: 'diagonal', overallDiameterM: exact(0.717) }).designation // "G78-15"
 * @example recordedSize({ size: '165R15', construction: 'radial', overallDiameterM: exact(0.65) }) // throws tire-size-built-in
 */
export function recordedSize(row: SizeRow): TabulatedSize {
  const { designation, rimDiameterM } = parseTireSize(row.size, row.construction)
  if (builtInSizes(designation) !== undefined) {
    throw new DomainError(
      'tire-size-built-in',
      `size: ${designation} is in the built-in table, which has priority: this row would never be used`,
      { pointer: '/size', size: designation },
    )
  }
  const diameterM = row.overallDiameterM.value
  if (diameterM <= rimDiameterM) {
    throw new DomainError(
      'out-of-range',
      `overallDiameter: expected more than the rim of ${designation}, ${millimeters(rimDiameterM)} mm`,
      { pointer: '/overallDiameter' },
    )
  }
  // The bound of the schema is rounded outward in inches.
  if (diameterM > MAX_DIAMETER_M) {
    throw new DomainError(
      'out-of-range',
      `overallDiameter: expected at most ${millimeters(MAX_DIAMETER_M)} mm, got ${millimeters(diameterM)} mm`,
      { pointer: '/overallDiameter' },
    )
  }
  return tabulatedSize(designation, row)
}
