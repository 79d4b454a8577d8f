import { DomainError, within, withPointer } from '../errors.js'
import { exact, type Figure, toleranced, toleranceUncertainty, uncertain } from '../measure/figure.js'
import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import { product, quotient, scaled, sum } from '../measure/propagation.js'
import { orderedSources, type SourceId } from '../measure/sources.js'
import { plusMinus } from '../measure/uncertainty.js'
import type { Mutable } from '../mutable.js'
import { type Basis, designDiameter } from './design-diameter.js'
import { type Construction, parseTireSize, type TireSize } from './size.js'
import { builtInSizes, type SizeTable, type TabulatedSize } from './size-table.js'

/** A tire as given: by its marking, by a measured diameter or rolling circumference, or by its turns per distance. */
export type Tire =
  | {
      readonly size: string
      /** Construction, if known; needed only for sizes that do not state it. */
      readonly construction?: Construction
      readonly wearM?: Figure
    }
  | { readonly overallDiameterM: Figure; readonly construction?: 'radial' | 'diagonal' }
  | { readonly rollingCircumferenceM: Figure }
  | { readonly turnsPerM: Figure }

export interface TireGeometry {
  /** What the size says; its section width from the table where the size states none. */
  readonly size?: TireSize
  readonly sectionHeightM?: Figure
  readonly overallDiameterM?: Figure
  readonly overallDiameterMinM?: number
  readonly overallDiameterMaxM?: number
  /** π·D: circumference of the unloaded tire, the upper limit of the rolling circumference. */
  readonly freeCircumferenceM?: Figure
  readonly rollingCircumferenceM: Figure
  readonly turnsPerM: Figure
  readonly basis: Basis
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/**
 * Rolling circumference over overall diameter, by construction.
 *
 * | construction | F | source |
 * |---|---|---|
 * | radial | 3.05 | ETRTO Standards Manual, at 60 km/h: from memory |
 * | diagonal, bias-belted | 2.99 | the same |
 */
export const ROLLING_FACTOR: Readonly<Record<Construction, number>> = {
  radial: 3.05,
  diagonal: 2.99,
  'bias-belted': 2.99,
}

/** Tolerance of the rolling circumference about F·D, as fractions (ETRTO: -2.5 %, +1.5 %). */
const ROLLING_TOLERANCE = { below: 0.025, above: 0.015 }

/** The rolling factor, uniformly distributed over its tolerance: the standard gives limits and no distribution. */
function rollingFactorOf(construction: Construction): Figure {
  const factor = ROLLING_FACTOR[construction]
  const { below, above } = ROLLING_TOLERANCE
  return toleranced(factor, 'tire: rolling factor', factor * below, factor * above)
}

/** Tolerance of a new tire's section height, as fractions (UN R30, 6.1.5). */
const HEIGHT_TOLERANCE: Readonly<Record<Construction, { below: number; above: number }>> = {
  radial: { below: 0.03, above: 0.04 },
  diagonal: { below: 0.03, above: 0.08 },
  'bias-belted': { below: 0.03, above: 0.08 },
}

/** Maximum tread depth of a new road or light-truck tire [m]; common practice, no source. */
const MAX_TREAD_DEPTH_M = 0.02

/** Minimum share of the tread wear that reduces the rolling radius: Re = Rg - (Rg - Rh)/3. */
const MIN_WEAR_SHARE = 2 / 3

const isUnworn = (wearM: Figure | undefined): wearM is undefined =>
  wearM === undefined || (wearM.value === 0 && wearM.contributions.length === 0)

function worn(wearM: Figure | undefined) {
  if (isUnworn(wearM)) return undefined
  if (wearM.value > MAX_TREAD_DEPTH_M) {
    throw new DomainError(
      'wear-beyond-tread',
      `wear: expected at most ${MAX_TREAD_DEPTH_M * 1000} mm, got ${wearM.value * 1000} mm; give the tread depth lost since new`,
      { pointer: '/wear', max: MAX_TREAD_DEPTH_M, value: wearM.value },
    )
  }
  // Two thirds to all of the wear reduces the rolling radius: the middle of that range, with half its width as a tolerance.
  const middleShare = (1 + MIN_WEAR_SHARE) / 2
  const shareUncertainty = (1 - MIN_WEAR_SHARE) / 2 / Math.sqrt(3)
  return {
    diameterLossM: scaled(wearM, 2),
    rollingLossM: product(
      scaled(wearM, 2 * Math.PI),
      uncertain(middleShare, 'tire: share of wear in the rolling radius', shareUncertainty),
    ),
  }
}

/** What is known of an unworn size, and the row of the table that it is based on: a stored row may be changed. */
const UNWORN = new WeakMap<
  TireSize,
  { readonly row: TabulatedSize | undefined; readonly geometry: TireGeometry }
>()

function ofReading(size: TireSize, wearM: Figure | undefined, table: SizeTable): TireGeometry {
  const row = table(size.designation)
  if (!isUnworn(wearM)) return ofNewOrWorn(size, wearM, row)
  const known = UNWORN.get(size)
  if (known !== undefined && known.row === row) return known.geometry
  const geometry = ofNewOrWorn(size, undefined, row)
  UNWORN.set(size, { row, geometry })
  return geometry
}

function ofNewOrWorn(
  size: TireSize,
  wearM: Figure | undefined,
  row: TabulatedSize | undefined,
): TireGeometry {
  const design = designDiameter(size, row)
  const designM = design.designDiameterM
  const wear = worn(wearM)
  const sources: SourceId[] = ['definitions', 'gum', 'etrto-rolling-factor', 'un-r30', ...design.sources]
  if (wear !== undefined) sources.push('two-thirds-rule')

  const heightM = scaled(sum(designM, exact(-size.rimDiameterM)), 0.5)
  const { below, above } = HEIGHT_TOLERANCE[size.construction]
  const tolerance = toleranced(
    0,
    'tire: tolerance of a new tire',
    2 * heightM.value * below,
    2 * heightM.value * above,
  )
  const lossM = wear?.diameterLossM ?? exact(0)
  const overallDiameterM = sum(designM, tolerance, scaled(lossM, -1))
  const estimateM = plusMinus(designM)
  const rollingFactor = rollingFactorOf(size.construction)
  const rollingCircumferenceM = sum(
    product(rollingFactor, designM),
    scaled(wear?.rollingLossM ?? exact(0), -1),
  )
  const result: Mutable<TireGeometry> = {
    size,
    sectionHeightM: sum(heightM, scaled(tolerance, 0.5)),
    overallDiameterM,
    overallDiameterMinM: size.rimDiameterM + 2 * heightM.value * (1 - below) - lossM.value - estimateM,
    overallDiameterMaxM: size.rimDiameterM + 2 * heightM.value * (1 + above) - lossM.value + estimateM,
    freeCircumferenceM: scaled(overallDiameterM, Math.PI),
    rollingCircumferenceM,
    turnsPerM: quotient(exact(1), rollingCircumferenceM),
    basis: design.basis,
    sources: orderedSources(sources),
    notes: design.notes,
  }
  const sectionWidthM = size.sectionWidthM === undefined ? row?.sectionWidthM : undefined
  if (sectionWidthM !== undefined) result.size = { ...size, sectionWidthM }
  return result
}

const CONSTRUCTION_NOT_STATED = 'tire: construction not stated'

/** The figure for the assumed construction, with its uncertainty widened to cover the other construction. */
function coveringBoth(assumed: Figure, other: Figure): Figure {
  const apart = other.value - assumed.value
  const u = toleranceUncertainty(Math.max(0, -apart), Math.max(0, apart))
  return sum(assumed, scaled(uncertain(0, CONSTRUCTION_NOT_STATED, u), Math.sign(apart)))
}

/** Geometry of a size without a stated construction: the radial one, widened to cover the diagonal one. */
function eitherConstruction(marking: string, radial: TireGeometry, diagonal: TireGeometry): TireGeometry {
  const rollingCircumferenceM = coveringBoth(radial.rollingCircumferenceM, diagonal.rollingCircumferenceM)
  const overallDiameterM = coveringBoth(radial.overallDiameterM!, diagonal.overallDiameterM!)
  const mm = ({ rollingCircumferenceM: { value } }: TireGeometry) => Math.round(value * 1000)
  return {
    ...radial,
    sectionHeightM: coveringBoth(radial.sectionHeightM!, diagonal.sectionHeightM!),
    overallDiameterM,
    overallDiameterMinM: Math.min(radial.overallDiameterMinM!, diagonal.overallDiameterMinM!),
    overallDiameterMaxM: Math.max(radial.overallDiameterMaxM!, diagonal.overallDiameterMaxM!),
    freeCircumferenceM: scaled(overallDiameterM, Math.PI),
    rollingCircumferenceM,
    turnsPerM: quotient(exact(1), rollingCircumferenceM),
    sources: orderedSources([...radial.sources, ...diagonal.sources, 'unmarked-metric-width']),
    notes: [
      ...radial.notes,
      cautionNote(
        'tire-construction-assumed',
        `${marking} does not state the construction: the radial ${radial.size!.designation} is assumed, as nearly all tires with such a marking are radial (common practice, no source); its rolling circumference is ${mm(radial)} mm. A diagonal tire would have ${mm(diagonal)} mm; the uncertainty covers both. Give construction to decide.`,
      ),
    ],
  }
}

function ofSize(tire: Extract<Tire, { size: string }>, table: SizeTable): TireGeometry {
  const size = parseTireSize(tire.size, tire.construction)
  if (size.constructionAssumed === undefined) return ofReading(size, tire.wearM, table)
  const diagonal = ofReading(parseTireSize(tire.size, 'diagonal'), tire.wearM, table)
  // A stored row for the marking as written decides the construction.
  if (diagonal.basis === 'table') return diagonal
  const radial = ofReading(parseTireSize(tire.size, 'radial'), tire.wearM, table)
  return eitherConstruction(tire.size, radial, diagonal)
}

function ofDiameter(tire: Extract<Tire, { overallDiameterM: Figure }>): TireGeometry {
  const diameterM = tire.overallDiameterM
  within('overallDiameter [m]', diameterM.value, 0.1, 3, { pointer: '/overallDiameter' })
  const construction = tire.construction ?? 'radial'
  let rollingFactor = rollingFactorOf(construction)
  const notes: Note[] = []
  if (tire.construction === undefined) {
    const unknown = 1 - ROLLING_FACTOR.diagonal / ROLLING_FACTOR.radial
    rollingFactor = product(rollingFactor, toleranced(1, CONSTRUCTION_NOT_STATED, unknown, 0))
    notes.push(
      infoNote(
        'tire-construction-assumed',
        'No construction was given: radial is assumed, and the uncertainty is widened to cover a diagonal tire (2 % less).',
      ),
    )
  }
  const rollingCircumferenceM = product(rollingFactor, diameterM)
  return {
    overallDiameterM: diameterM,
    freeCircumferenceM: scaled(diameterM, Math.PI),
    rollingCircumferenceM,
    turnsPerM: quotient(exact(1), rollingCircumferenceM),
    basis: 'measured',
    sources: orderedSources(['definitions', 'gum', 'etrto-rolling-factor', 'caller-reading']),
    notes,
  }
}

/** Accepted range, including wheels of scooters and of earth movers [m]. */
const MIN_ROLLING_M = 0.3
const MAX_ROLLING_M = 10

function ofCircumference(rollingCircumferenceM: Figure, turnsPerM: Figure): TireGeometry {
  return {
    rollingCircumferenceM,
    turnsPerM,
    basis: 'measured',
    sources: orderedSources(['definitions', 'gum', 'caller-reading']),
    notes: [],
  }
}

/**
 * Geometry of a tire, from the size on its sidewall or from a measurement.
 *
 *     H = S·aspect/100            D = d + 2·H          (metric; else table, else estimate)
 *     free circumference π·D      rolling circumference C = F·D,  F = 3.05 radial, 2.99 diagonal
 *     worn by w: D falls by 2·w, C by between 2/3 and all of 2π·w      turns = 1/C
 *
 * S is the section width, H the section height, d the rim diameter, D the overall diameter.
 *
 * The rolling circumference holds at rated load and pressure, 60 km/h. F is uniform from 2.5 % below to 1.5 % above, and for a construction that is not
 * stated down to that of a diagonal tire as well; the diameter of a new tire is uniform over its tolerance. Each `plusMinus` covers 95.45 %, symmetrically about the value.
 *
 * @param tire - Tire, given in one of the four ways. Diameters 0.1 .. 3 m, circumferences 0.3 .. 10 m
 * @param table - Finds sizes that no formula covers; default: the built-in table
 * @returns Lengths [m] and turns [1/m] with their uncertainty; basis, sources and notes
 * @throws {DomainError} those of `parseTireSize`; `tire-size-not-tabulated`; `wear-beyond-tread`; `out-of-range`
 * @see UN R30 2.17, 6.1.2, 6.1.5, Annex 5; ETRTO rolling factor; JCGM 100:2008, 4.3.7, 5.1.2
 * @example tireGeometry({ size: '205/70R14' }).overallDiameterM.value // 0.6426 ± 1e-12
 * @example tireGeometry({ size: '165R15' }).basis // "table"
 * @example tireGeometry({ size: '155-13' }).overallDiameterM.value // 0.578 ± 1e-12
 * @example tireGeometry({ size: 'FR70-14' }) // throws tire-size-not-tabulated
 */
export function tireGeometry(tire: Tire, table: SizeTable = builtInSizes): TireGeometry {
  if ('size' in tire) return ofSize(tire, table)
  if ('overallDiameterM' in tire) return ofDiameter(tire)
  if ('rollingCircumferenceM' in tire) {
    const { rollingCircumferenceM } = tire
    within('rollingCircumference [m]', rollingCircumferenceM.value, MIN_ROLLING_M, MAX_ROLLING_M, {
      pointer: '/rollingCircumference',
    })
    return ofCircumference(rollingCircumferenceM, quotient(exact(1), rollingCircumferenceM))
  }
  const { turnsPerM } = tire
  within('turns [1/km]', 1000 * turnsPerM.value, 1000 / MAX_ROLLING_M, 1000 / MIN_ROLLING_M, {
    pointer: '/turns',
  })
  return ofCircumference(quotient(exact(1), turnsPerM), turnsPerM)
}

/** Geometry of the tire at a pointer of the request. */
export const tireGeometryAt = (pointer: string, tire: Tire, table: SizeTable): TireGeometry =>
  withPointer(pointer, () => tireGeometry(tire, table))
