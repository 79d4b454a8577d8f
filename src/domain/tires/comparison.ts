import { exact, type Figure, quotient, scaled, sum } from '../measure/figure.js'

export interface TireChange {
  /** Change of the rolling circumference [%]. */
  readonly changePercent: Figure
  /** Indicated over true speed, for a dial that read true before the change. */
  readonly indicatedPerTrue: Figure
  /** True over indicated speed. */
  readonly truePerIndicated: Figure
  /** Error of the odometer after the change [%]. */
  readonly odometerErrorPercent: Figure
}

/**
 * Effect of another tire on a dial that read true.
 *
 *     indicated/true = C_before / C_after      change = 100·(C_after/C_before − 1)      odometer error = 100·(C_before/C_after − 1)
 *
 * @param beforeM - Rolling circumference for which the dial read true. [m]
 * @param afterM - Rolling circumference of the tire fitted. [m]; inputs named apart from those of `beforeM`
 * @returns Ratios and percentages with their uncertainty
 * @throws {DomainError} `not-finite`
 * @see EU 165/2014, Annex I (indicated distance is proportional to l over the true circumference)
 * @example tireChange(exact(2), exact(1.9)).indicatedPerTrue.value // 1.0526316 ± 1e-7
 * @example tireChange(exact(2), exact(1.9)).changePercent.value // -5 ± 1e-12
 */
export function tireChange(beforeM: Figure, afterM: Figure): TireChange {
  const indicatedPerTrue = quotient(beforeM, afterM)
  const truePerIndicated = quotient(afterM, beforeM)
  return {
    changePercent: scaled(sum(truePerIndicated, exact(-1)), 100),
    indicatedPerTrue,
    truePerIndicated,
    odometerErrorPercent: scaled(sum(indicatedPerTrue, exact(-1)), 100),
  }
}
