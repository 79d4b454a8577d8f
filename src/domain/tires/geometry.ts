import { DomainError, within } from '../errors.js'
import {
  COVERAGE_FACTOR,
  exact,
  type Figure,
  plusMinus,
  product,
  quotient,
  scaled,
  sum,
  toleranced,
  toleranceUncertainty,
  uncertain,
} from '../measure/figure.js'
import type { Note } from '../measure/notes.js'
import { orderedSources, type SourceId } from '../measure/sources.js'
import { INCH_M } from '../measure/units.js'
import type { Mutable } from '../mutable.js'
import { type Construction, parseTireSize, type TireSize } from './size.js'
import { builtInSizes, type SizeTable } from './size-table.js'

/** A tire as given: by its marking, by a measured diameter or rolling circumference, or by its turns per distance. */
export type Tire =
  | {
      readonly by: 'size'
      readonly size: string
      /** Construction, if known; needed only for sizes that do not state it. */
      readonly construction?: Construction
      readonly wearM?: Figure
    }
  | {
      readonly by: 'overall-diameter'
      readonly overallDiameterM: Figure
      readonly construction?: 'radial' | 'diagonal'
    }
  | { readonly by: 'rolling-circumference'; readonly rollingCircumferenceM: Figure }
  | { readonly by: 'turns'; readonly turnsPerM: Figure }

export type Basis = 'formula' | 'table' | 'measured'

export interface TireGeometry {
  readonly size?: TireSize
  readonly sectionWidthM?: number
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

function designDiameter(size: TireSize, table: SizeTable): NewTire {
  const row = table(size.designation)
  if (row !== undefined) {
    const { overallDiameterM, overallDiameterPlusMinusM = 0, source } = row
    const standardUncertaintyM = overallDiameterPlusMinusM / COVERAGE_FACTOR
    return {
      designDiameterM: uncertain(overallDiameterM, 'tire: recorded diameter', standardUncertaintyM),
      basis: 'table',
      sources: [source],
      notes: [],
    }
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
      {
        code: 'tire-diameter-estimated',
        level: 'caution',
        text: `${size.designation} is in no table: its section height is assumed to be ${heightPerWidth} of the width (common practice, no source), with an uncertainty of about ${diameterPlusMinus * 100} % of the diameter. Measure the tire before relying on this.`,
      },
    ],
  }
}

function worn(wearM: Figure | undefined) {
  if (wearM === undefined || (wearM.value === 0 && wearM.contributions.length === 0)) return undefined
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

function ofReading(size: TireSize, wearM: Figure | undefined, table: SizeTable): TireGeometry {
  const design = designDiameter(size, table)
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
  const sectionWidthM = size.sectionWidthM ?? table(size.designation)?.sectionWidthM
  if (sectionWidthM !== undefined) result.sectionWidthM = sectionWidthM
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
      {
        code: 'tire-construction-assumed',
        level: 'caution',
        text: `${marking} does not state the construction: the radial ${radial.size!.designation} is assumed, as nearly all tires with such a marking are radial (common practice, no source); its rolling circumference is ${mm(radial)} mm. A diagonal tire would have ${mm(diagonal)} mm; the uncertainty covers both. Give construction to decide.`,
      },
    ],
  }
}

function ofSize(tire: Extract<Tire, { by: 'size' }>, table: SizeTable): TireGeometry {
  const size = parseTireSize(tire.size, tire.construction)
  if (size.constructionAssumed === undefined) return ofReading(size, tire.wearM, table)
  const diagonal = ofReading(parseTireSize(tire.size, 'diagonal'), tire.wearM, table)
  // A stored row for the marking as written decides the construction.
  if (diagonal.basis === 'table') return diagonal
  const radial = ofReading(parseTireSize(tire.size, 'radial'), tire.wearM, table)
  return eitherConstruction(tire.size, radial, diagonal)
}

function ofDiameter(tire: Extract<Tire, { by: 'overall-diameter' }>): TireGeometry {
  const diameterM = tire.overallDiameterM
  within('overallDiameter [m]', diameterM.value, 0.1, 3, { pointer: '/overallDiameter' })
  const construction = tire.construction ?? 'radial'
  let rollingFactor = rollingFactorOf(construction)
  const notes: Note[] = []
  if (tire.construction === undefined) {
    const unknown = 1 - ROLLING_FACTOR.diagonal / ROLLING_FACTOR.radial
    rollingFactor = product(rollingFactor, toleranced(1, CONSTRUCTION_NOT_STATED, unknown, 0))
    notes.push({
      code: 'tire-construction-assumed',
      level: 'info',
      text: 'No construction was given: radial is assumed, and the uncertainty is widened to cover a diagonal tire (2 % less).',
    })
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
 * @example tireGeometry({ by: 'size', size: '205/70R14' }).overallDiameterM.value // 0.6426 ± 1e-12
 * @example tireGeometry({ by: 'size', size: '165R15' }).basis // "table"
 * @example tireGeometry({ by: 'size', size: '155-13' }).overallDiameterM.value // 0.578 ± 1e-12
 * @example tireGeometry({ by: 'size', size: 'FR70-14' }) // throws tire-size-not-tabulated
 */
export function tireGeometry(tire: Tire, table: SizeTable = builtInSizes): TireGeometry {
  switch (tire.by) {
    case 'size':
      return ofSize(tire, table)
    case 'overall-diameter':
      return ofDiameter(tire)
    case 'rolling-circumference': {
      const { rollingCircumferenceM } = tire
      within('rollingCircumference [m]', rollingCircumferenceM.value, MIN_ROLLING_M, MAX_ROLLING_M, {
        pointer: '/rollingCircumference',
      })
      return ofCircumference(rollingCircumferenceM, quotient(exact(1), rollingCircumferenceM))
    }
    case 'turns': {
      const { turnsPerM } = tire
      within('turns [1/km]', 1000 * turnsPerM.value, 1000 / MAX_ROLLING_M, 1000 / MIN_ROLLING_M, {
        pointer: '/turns',
      })
      return ofCircumference(quotient(exact(1), turnsPerM), turnsPerM)
    }
  }
}
