import { exact, type Figure } from '../measure/figure.js'
import type { SourceId } from '../measure/sources.js'

/** Overall diameter of a size that its marking alone does not give. */
export interface TabulatedSize {
  readonly designation: string
  readonly overallDiameterM: Figure
  readonly sectionWidthM?: number
  readonly source: SourceId
}

/** Finds the row of a designation, or undefined. */
export type SizeTable = (designation: string) => TabulatedSize | undefined

/** designation, overall diameter [mm], section width [mm]; UN R30 Annex 5, quoted from memory. */
const UN_R30_ANNEX_5: ReadonlyArray<readonly [string, number, number]> = [
  ['125R10', 459, 127],
  ['145R10', 492, 147],
  ['125R12', 510, 127],
  ['135R12', 522, 137],
  ['145R12', 542, 147],
  ['155R12', 550, 157],
  ['125R13', 536, 127],
  ['135R13', 548, 137],
  ['145R13', 566, 147],
  ['155R13', 578, 157],
  ['165R13', 596, 167],
  ['175R13', 608, 177],
  ['185R13', 624, 187],
  ['135R14', 574, 137],
  ['145R14', 590, 147],
  ['155R14', 604, 157],
  ['165R14', 622, 167],
  ['175R14', 634, 177],
  ['185R14', 650, 187],
  ['195R14', 666, 197],
  ['205R14', 686, 207],
  ['215R14', 700, 217],
  ['225R14', 714, 227],
  ['125R15', 588, 127],
  ['135R15', 600, 137],
  ['145R15', 616, 147],
  ['155R15', 630, 157],
  ['165R15', 646, 167],
  ['175R15', 660, 177],
  ['185R15', 674, 187],
  ['195R15', 690, 197],
  ['205R15', 710, 207],
  ['215R15', 724, 217],
  ['225R15', 738, 227],
  ['155R16', 656, 157],
  ['165R16', 672, 167],
  ['175R16', 686, 177],
  ['185R16', 698, 187],
  ['4.80-10', 490, 128],
  ['5.20-10', 508, 132],
  ['5.20-12', 560, 132],
  ['5.20-13', 582, 132],
  ['5.60-13', 600, 145],
  ['5.90-13', 616, 150],
  ['6.40-13', 642, 163],
  ['5.20-14', 612, 132],
  ['5.60-14', 626, 145],
  ['5.90-14', 642, 150],
  ['6.40-14', 666, 163],
  ['5.60-15', 650, 145],
  ['5.90-15', 668, 150],
  ['6.40-15', 692, 163],
  ['6.70-15', 710, 170],
  ['7.10-15', 724, 180],
  ['7.60-15', 742, 193],
  ['8.20-15', 760, 213],
  ['5.50-12', 552, 142],
  ['6.00-12', 574, 156],
  ['7.00-13', 644, 178],
  ['7.00-14', 668, 178],
  ['7.50-14', 688, 190],
  ['8.00-14', 702, 203],
  ['6.15-13', 582, 157],
  ['6.45-13', 600, 167],
  ['6.95-13', 610, 178],
  ['6.15-14', 608, 157],
  ['6.45-14', 626, 167],
  ['6.95-14', 638, 178],
  ['7.35-14', 654, 188],
  ['7.75-14', 670, 198],
]

/** The same of light-truck tires; GOST R 52899-2007 Table A.1, where the section width is a maximum. */
const GOST_R_52899_TABLE_A1: ReadonlyArray<readonly [string, number, number]> = [
  ['185/80R15C', 674, 188],
  ['215/80R16C', 755, 218],
  ['225/75R16C', 744, 228],
  ['5.90-13C', 620, 154],
  ['6.40-13C', 645, 172],
  ['215/90-15C', 777, 218],
  ['6.50-16C', 760, 180],
  ['175/80-16C', 692, 178],
]

const rows = new Map<string, TabulatedSize>()
for (const [table, source] of [
  [UN_R30_ANNEX_5, 'un-r30'],
  [GOST_R_52899_TABLE_A1, 'gost-r-52899-2007'],
] as const) {
  for (const [designation, diameterMm, widthMm] of table) {
    rows.set(designation, {
      designation,
      overallDiameterM: exact(diameterMm / 1000),
      sectionWidthM: widthMm / 1000,
      source,
    })
  }
}

/**
 * The built-in table of sizes without an aspect ratio, and of listed light-truck sizes.
 *
 * @param designation - Size in the form of `TireSize.designation`
 * @returns Its row, or undefined
 * @see UN R30, Annex 5 (from memory); GOST R 52899-2007, Table A.1
 * @example builtInSizes('165R15').overallDiameterM.value // 0.646 ± 0
 */
export function builtInSizes(designation: string): TabulatedSize | undefined {
  return rows.get(designation)
}

/** Every row of the built-in table, for listings. */
export const BUILT_IN_SIZES: readonly TabulatedSize[] = [...rows.values()]
