import { type BudgetLine, budget } from '../measure/budget.js'
import type { Figure } from '../measure/figure.js'
import { quotient, scaled, sum } from '../measure/propagation.js'
import type { Traced } from '../measure/provenance.js'
import { RECORD_CAUTION } from './record-caution.js'

/** A time for which the odometer counted, with a known error, or for which it stood still. */
export type OdometerPeriod =
  | { readonly indicatedM: Figure; readonly odometerPerTrue?: Figure }
  | { readonly tripM: Figure; readonly trips: number }

export interface TotalDistance extends Traced {
  readonly trueDistanceM: Figure
  readonly budget: readonly BudgetLine[]
}

/**
 * True distance over periods in which the odometer had different errors, or stood still.
 *
 *     s = Σ sₙ;  sₙ = I/k by the odometer,  sₙ = n·d while it stood still
 *
 * I is the indicated distance of a period, k odometer ÷ true distance, d the length of a trip that was driven n times.
 *
 * @param request - Periods: indicated distance [m] and odometer ÷ true distance, left out: 1; or length of a trip [m] and how often it was driven
 * @returns True distance of all periods [m], with its budget
 * @throws {DomainError} `not-finite`
 * @see JCGM 100:2008, 5.1.2 eq. (10), 5.2 (the trips share the error of their length); 49 USC 32703 for the caution
 * @example totalDistance({ periods: [{ indicatedM: exact(1050), odometerPerTrue: exact(1.05) }, { tripM: exact(20), trips: 100 }] }).trueDistanceM.value // 3000 ± 1e-9
 */
export function totalDistance(request: { readonly periods: readonly OdometerPeriod[] }): TotalDistance {
  const distances = request.periods.map((period) => {
    if ('tripM' in period) return scaled(period.tripM, period.trips)
    const { indicatedM, odometerPerTrue } = period
    return odometerPerTrue === undefined ? indicatedM : quotient(indicatedM, odometerPerTrue)
  })
  const trueDistanceM = sum(...distances)
  return {
    trueDistanceM,
    budget: budget(trueDistanceM),
    sources: ['definitions', 'gum', 'caller-reading', 'us-49-usc-32703'],
    notes: [RECORD_CAUTION],
  }
}
