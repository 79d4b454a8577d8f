import { DomainError } from '../errors.js'
import { exact, type Figure, uncertain } from '../measure/figure.js'
import { cautionNote, type Note } from '../measure/notes.js'
import { sum } from '../measure/propagation.js'
import type { SourceId } from '../measure/sources.js'
import { INCH_M } from '../measure/units.js'
import type { TireSize } from './size.js'
import type { TabulatedSize } from './size-table.js'

export type Basis = 'formula' | 'table' | 'measured'

/** Section height over section width of sizes without an aspect ratio, and the uncertainty of the diameter, k = 2, as a fraction. */
interface HeightEstimate {
  readonly heightPerWidth: number
  readonly diameterPlusMinus: number
}

/** Nominal widths of the low series of inch sizes [in]; the built-in table holds the first five, the others are from memory. */
const LOW_SERIES_WIDTHS = new Set('6.15 6.45 6.95 7.35 7.75 6.85 8.15 8.25 8.45 8.55 8.85 9.15'.split(' '))

/**
 * Smallest rim of the high inch series, whose sections are about as high as wide [m]. The built-in rows on rims to 15 in have H/S of
 * 0.85 to 0.97, the one on 16 in has 1.07; handbook diameters of others from 16 in on, from memory, have 1.01 to 1.10.
 */
const SMALLEST_HIGH_SERIES_RIM_M = 16 * INCH_M

/**
 * Height estimate for a size without an aspect ratio that is in no table.
 *
 *     H = 0.82·S, D ± 3 %   full-profile metric radial
 *     H = 0.82·S, D ± 4 %   inch sizes of the low series (6.95, 7.35, 7.75; not 6.25 or 5.25)
 *     H = 0.95·S, D ± 6 %   other inch sizes on rims below 16 in; full-profile diagonal metric likewise
 *     H = 1.04·S, D ± 5 %   inch sizes on rims of 16 in and more (6.00-16, 4.75-19)
 *
 * S is the section width, D the overall diameter.
 *
 * The uncertainties cover every row of the built-in table.
 *
 * @param size - Parsed size with a section width
 * @returns Height per width, and the 95 % uncertainty of the diameter as a fraction of it
 * @see common practice, no source; checked against UN R30 Annex 5 and GOST R 52899-2007 Table A.1; from 16 in on against handbook diameters from memory
 * @example sectionHeightEstimate(parseTireSize('165R15')).heightPerWidth // 0.82 ± 0
 * @example sectionHeightEstimate(parseTireSize('5.00-15')).heightPerWidth // 0.95 ± 0
 * @example sectionHeightEstimate(parseTireSize('4.75-19')).heightPerWidth // 1.04 ± 0
 */
export function sectionHeightEstimate(size: TireSize): HeightEstimate {
  if (size.kind === 'full-profile-metric') {
    return size.construction === 'radial'
      ? { heightPerWidth: 0.82, diameterPlusMinus: 0.03 }
      : { heightPerWidth: 0.95, diameterPlusMinus: 0.06 }
  }
  if (size.rimDiameterM >= SMALLEST_HIGH_SERIES_RIM_M) {
    return { heightPerWidth: 1.04, diameterPlusMinus: 0.05 }
  }
  const lowSeries = size.kind === 'inch' && LOW_SERIES_WIDTHS.has(/^[\d.]+/.exec(size.designation)![0])
  return lowSeries
    ? { heightPerWidth: 0.82, diameterPlusMinus: 0.04 }
    : { heightPerWidth: 0.95, diameterPlusMinus: 0.06 }
}

/** Half-inch rim codes: tubeless truck sizes (8.00R16.5), with a height about a tenth below the estimate; from memory. */
const HALF_INCH_RIM = /\.5(?:LT|C)?$/

interface NewTire {
  /** Design diameter: from the formula, the table or an estimate, with the uncertainty of that alone [m]. */
  readonly designDiameterM: Figure
  readonly basis: Basis
  readonly sources: SourceId[]
  readonly notes: Note[]
}

/** Design diameter of a new tire of a size: from its row of the table, the formula, or an estimate of the height of its section. */
export const designDiameter = (size: TireSize, row: TabulatedSize | undefined): NewTire => {
  if (row !== undefined) {
    return { designDiameterM: row.overallDiameterM, basis: 'table', sources: [row.source], notes: [] }
  }
  if (size.statedDiameterM !== undefined) {
    return { designDiameterM: exact(size.statedDiameterM), basis: 'formula', sources: ['un-r30'], notes: [] }
  }
  if (size.sectionWidthM === undefined) {
    throw new DomainError(
      'tire-size-not-tabulated',
      `${size.designation}: the letter is a load class, not a width, so the size does not determine the diameter; measure one turn of the wheel on the ground and give rollingCircumference, or give overallDiameter`,
      { size: size.designation, pointer: '/size' },
    )
  }
  if (size.aspectPercent !== undefined) {
    const heightM = (size.sectionWidthM * size.aspectPercent) / 100
    return {
      designDiameterM: exact(size.rimDiameterM + 2 * heightM),
      basis: 'formula',
      sources: ['un-r30'],
      notes: [],
    }
  }
  if (HALF_INCH_RIM.test(size.designation)) {
    throw new DomainError(
      'tire-size-not-tabulated',
      `${size.designation}: sizes for half-inch rims have a lower section than their width suggests, and this one is in no table; give overallDiameter, or measure one turn of the wheel on the ground and give rollingCircumference`,
      { size: size.designation, pointer: '/size' },
    )
  }
  const { heightPerWidth, diameterPlusMinus } = sectionHeightEstimate(size)
  const diameterM = size.rimDiameterM + 2 * heightPerWidth * size.sectionWidthM
  const estimate = uncertain(diameterM, 'tire: estimated section height', (diameterM * diameterPlusMinus) / 2)
  const between = uncertain(
    0,
    'tire: width of a combined size',
    (2 * heightPerWidth * (size.sectionWidthHalfRangeM ?? 0)) / Math.sqrt(3),
  )
  return {
    designDiameterM: sum(estimate, between),
    basis: 'formula',
    sources: ['estimated-section-height'],
    notes: [
      cautionNote(
        'tire-diameter-estimated',
        `${size.designation} is in no table: its section height is assumed to be ${heightPerWidth} of the width (common practice, no source), with an uncertainty of about ${diameterPlusMinus * 100} % of the diameter. Measure the tire before relying on this.`,
      ),
    ],
  }
}
