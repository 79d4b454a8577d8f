import { exact, type Figure, renamed } from '../measure/figure.js'
import { product, quotient, scaled, sum } from '../measure/propagation.js'
import type { Traced } from '../measure/provenance.js'
import { plusMinus } from '../measure/uncertainty.js'
import { type Tire, type TireGeometry, tireGeometryAt } from './geometry.js'
import type { SizeTable } from './size-table.js'

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

/** Rolling circumference of one of several tires in a request; its uncertainties are independent of the others. */
export const circumferenceOfOne = (which: string, { rollingCircumferenceM }: TireGeometry): Figure =>
  renamed(rollingCircumferenceM, (input) => `${which} ${input}`)

export interface ComparisonRequest {
  readonly from: Tire
  readonly to: readonly Tire[]
  readonly speedsMPerS: readonly Figure[]
}

/** Tires to compare, after their sizes were looked up. */
export interface KnownTires {
  readonly from: TireGeometry
  readonly to: readonly TireGeometry[]
  readonly speedsMPerS: readonly Figure[]
}

/** The tires of a comparison, each error at its pointer. */
export const knownTires = ({ from, to, speedsMPerS }: ComparisonRequest, table: SizeTable): KnownTires => ({
  from: tireGeometryAt('/from', from, table),
  to: to.map((tire, index) => tireGeometryAt(`/to/${index}`, tire, table)),
  speedsMPerS,
})

/** Rows up to which a comparison takes some ten milliseconds, most of them for the uncertainties. */
const LIGHT_ROWS = 50

/** Whether to compare at once would keep other callers waiting. */
export const comparisonIsHeavy = ({ to, speedsMPerS }: KnownTires): boolean =>
  to.length * speedsMPerS.length > LIGHT_ROWS

export interface SpeedComparison {
  readonly speedMPerS: Figure
  readonly trueWhenIndicatedMPerS: Figure
  readonly indicatedWhenTrueMPerS: Figure
}

export interface ComparedTire {
  readonly rollingCircumferenceM: Figure
  readonly changePercent: number
  /** 95 % [percentage points]. */
  readonly changePlusMinusPercent: number
  readonly odometerErrorPercent: number
  readonly indicatedPerTrue: Figure
  readonly speeds: readonly SpeedComparison[]
}

export interface TireComparison extends Traced {
  /** Rolling circumference of the tire with which the dial reads true. */
  readonly fromM: Figure
  readonly to: readonly ComparedTire[]
}

/**
 * Effect of other tires on a dial and an odometer that were right with the first.
 *
 *     true when the dial shows v = v·C_after/C_before      shown when v is true = v·C_before/C_after
 *
 * The uncertainties of the tires are independent of each other.
 *
 * @param tires - The tire with which the dial reads true, those to compare with it, and the speeds [m/s]
 * @returns Each tire: change of circumference, odometer, and both speeds, with their uncertainty
 * @throws {DomainError} `not-finite`
 * @see EU 165/2014, Annex I (indicated distance is proportional to l over the true circumference)
 * @example compareTires(knownTires({ from: { rollingCircumferenceM: exact(2) }, to: [{ rollingCircumferenceM: exact(1.9) }], speedsMPerS: [exact(20)] }, builtInSizes)).to[0].speeds[0].trueWhenIndicatedMPerS.value // 19 ± 1e-12
 */
export function compareTires(tires: KnownTires): TireComparison {
  const { from, to, speedsMPerS } = tires
  const beforeM = circumferenceOfOne('before', from)
  return {
    fromM: from.rollingCircumferenceM,
    to: to.map((geometry) => {
      const { changePercent, indicatedPerTrue, truePerIndicated, odometerErrorPercent } = tireChange(
        beforeM,
        circumferenceOfOne('after', geometry),
      )
      return {
        rollingCircumferenceM: geometry.rollingCircumferenceM,
        changePercent: changePercent.value,
        changePlusMinusPercent: plusMinus(changePercent),
        odometerErrorPercent: odometerErrorPercent.value,
        indicatedPerTrue,
        speeds: speedsMPerS.map((speedMPerS) => ({
          speedMPerS,
          trueWhenIndicatedMPerS: product(truePerIndicated, speedMPerS),
          indicatedWhenTrueMPerS: product(indicatedPerTrue, speedMPerS),
        })),
      }
    }),
    sources: [from, ...to].flatMap(({ sources }) => sources),
    notes: [from, ...to].flatMap(({ notes }) => notes),
  }
}
