import { type BudgetLine, budget } from '../measure/budget.js'
import type { Figure } from '../measure/figure.js'
import { plusMinus } from '../measure/uncertainty.js'
import type { Mutable } from '../mutable.js'
import { type Tire, type TireGeometry, tireGeometry, tireGeometryAt } from './geometry.js'
import type { SizeTable } from './size-table.js'

/** A diameter with the smallest and the largest that the size and its wear allow [m]. */
export interface DiameterRange {
  readonly estimate: Figure
  readonly min: number
  readonly max: number
}

/** Everything that is known of a tire. */
export interface TireReport
  extends Omit<TireGeometry, 'overallDiameterM' | 'overallDiameterMinM' | 'overallDiameterMaxM'> {
  readonly overallDiameterM?: DiameterRange
  /** By how much the unloaded circumference exceeds the rolling circumference [%]. */
  readonly freeOverRollingPercent?: number
  /** Of the rolling circumference. */
  readonly budget: readonly BudgetLine[]
}

/** From smallest to largest; without limits of its own a diameter lies within its uncertainty. */
function rangeOf(
  estimate: Figure,
  { overallDiameterMinM, overallDiameterMaxM }: TireGeometry,
): DiameterRange {
  const uncertaintyM = plusMinus(estimate)
  return {
    estimate,
    min: overallDiameterMinM ?? estimate.value - uncertaintyM,
    max: overallDiameterMaxM ?? estimate.value + uncertaintyM,
  }
}

function reportOf(geometry: TireGeometry): TireReport {
  const { rollingCircumferenceM, turnsPerM, basis, sources, notes } = geometry
  const report: Mutable<TireReport> = {
    rollingCircumferenceM,
    turnsPerM,
    basis,
    sources,
    notes,
    budget: budget(rollingCircumferenceM),
  }
  const { size, sectionHeightM, overallDiameterM, freeCircumferenceM } = geometry
  if (size !== undefined) report.size = size
  if (sectionHeightM !== undefined) report.sectionHeightM = sectionHeightM
  if (overallDiameterM !== undefined) report.overallDiameterM = rangeOf(overallDiameterM, geometry)
  if (freeCircumferenceM !== undefined) {
    report.freeCircumferenceM = freeCircumferenceM
    report.freeOverRollingPercent = (freeCircumferenceM.value / rollingCircumferenceM.value - 1) * 100
  }
  return report
}

/**
 * What is known of a tire: its geometry, the range of its diameter, and the error of arithmetic with pi times the diameter.
 *
 *     free over rolling = 100·(π·D/C − 1)      range of a measured D: D ± U(D)
 *
 * D is the overall diameter, C the rolling circumference. Limits of validity: those of `tireGeometry`.
 *
 * @param request - The tire, given in one of the four ways
 * @param table - Finds sizes that no formula covers
 * @returns Geometry [m, 1/m] with its uncertainty budget, basis, sources and notes
 * @throws {DomainError} those of `tireGeometry`
 * @see UN R30 2.17, 6.1.2, 6.1.5, Annex 5; ETRTO rolling factor
 * @example tireReport({ tire: { overallDiameterM: exact(0.65), construction: 'radial' } }, builtInSizes).freeOverRollingPercent // 3.00304 ± 1e-5
 */
export function tireReport(request: { readonly tire: Tire }, table: SizeTable): TireReport {
  return reportOf(tireGeometryAt('/tire', request.tire, table))
}

/** The report on a tire of which only the size is known. */
export const tireSizeReport = (
  size: Extract<Tire, { readonly size: string }>,
  table: SizeTable,
): TireReport => reportOf(tireGeometry(size, table))
