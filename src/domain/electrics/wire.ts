import { DomainError, within } from '../errors.js'
import { type Assumption, assumed } from '../measure/assumptions.js'
import { type ConformityResult, conformityProbability, conformityResult } from '../measure/conformity.js'
import { digits } from '../measure/digits.js'
import {
  type BudgetLine,
  budget,
  exact,
  type Figure,
  plusMinus,
  product,
  propagate,
  quotient,
  scaled,
  standardUncertainty,
  sum,
  toleranceUncertainty,
  uncertain,
} from '../measure/figure.js'
import type { Note } from '../measure/notes.js'
import type { SourceId } from '../measure/sources.js'
import type { Mutable } from '../mutable.js'
import { FUSE_LOADING, largestFuseA, QUICK_OPENING, smallestFuseA } from './fuses.js'
import {
  type HeatTransfer,
  heatTransferOf,
  rangeOfTemperature,
  staysCoolProbability,
  type TemperatureRange,
} from './still-air.js'

/** 0 degrees Celsius [K]: exact. */
const ZERO_CELSIUS_K = 273.15
/** Temperature of the copper standard [K]. */
const COPPER_REFERENCE_K = ZERO_CELSIUS_K + 20
/** Resistivity of annealed copper at 20 Cel [ohm m]. */
const COPPER_OHM_M = 0.017241e-6
/** Temperature coefficient of its resistance at 20 Cel [1/K]. */
const COPPER_PER_K = 0.00393
/** Maximum conductor temperature for this coefficient; any automotive insulation fails far below [K]. */
const HOTTEST_K = ZERO_CELSIUS_K + 300

/** Gauges and areas listed as alternatives. */
const OFFERED_AWG = [26, 24, 22, 20, 18, 16, 14, 12, 10, 8, 6, 4] as const
const OFFERED_MM2 = [0.22, 0.35, 0.5, 0.75, 1, 1.5, 2.5, 4, 6, 10, 16, 25] as const

export type WireSize =
  | { readonly by: 'gauge'; readonly awg: number }
  | { readonly by: 'area'; readonly areaM2: Figure }

export interface WireRequest {
  readonly supplyV: Figure
  readonly currentA: Figure
  /** One way, from source to load. */
  readonly lengthM: Figure
  readonly size: WireSize
  /** Return path: a second wire of the same size, or the body. */
  readonly returnPath: 'wire' | 'body'
  readonly bodyOhm?: Figure
  /** Switch, fuse holder and connectors, all together. */
  readonly contactsOhm?: Figure
  readonly ambientK?: Figure
  readonly insulationThicknessM?: Figure
  readonly insulationLimitK?: Figure
  readonly heatTransferWPerM2K?: Figure
  readonly sourceOhm?: Figure
  readonly allowedDropPercent?: number
  /** Rating of the fitted or planned fuse. */
  readonly fuseA?: number
}

export interface FittedFuse {
  readonly ratingA: number
  readonly carriesLoad: boolean
  /** Whether the rating is within the current capacity of the wire, with its uncertainty. */
  readonly protectsWire: ConformityResult
  readonly probability: number
  /** Whether a short circuit at the far end opens it within 5 s. */
  readonly opensOnShort: boolean
}

export interface WireSizeRow {
  readonly size: WireSize
  readonly areaM2: number
  /** Both absent if the wire never reaches a steady temperature. */
  readonly dropPercent?: number
  readonly conductorK?: number
  readonly suits: boolean
}

export interface Wire {
  readonly diameterM: Figure
  readonly areaM2: Figure
  readonly resistancePerLengthAt20: Figure
  readonly resistancePerLength: Figure
  readonly loopOhm: Figure
  readonly dropV: Figure
  readonly dropPercent: Figure
  readonly dropWithinAllowed: ConformityResult
  readonly loadV: Figure
  readonly heatW: Figure
  readonly heatPerLengthWPerM: Figure
  readonly conductorK: Figure
  /** An upper end of 300 °C means that the wire may not reach a steady temperature. */
  readonly conductorTemperatureRange: TemperatureRange
  readonly insulationLimitK: Figure
  readonly insulationHolds: ConformityResult
  readonly insulationProbability: number
  readonly largestCurrentA: Figure
  readonly shortCircuitA: Figure
  /** Smallest standard rating that carries the load, and largest that protects the wire. */
  readonly minFuseA?: number
  readonly maxFuseA?: number
  readonly fuse?: FittedFuse
  readonly sizes: readonly WireSizeRow[]
  readonly budget: readonly BudgetLine[]
  readonly assumptions: readonly Assumption[]
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/**
 * Diameter of a solid wire of an American gauge.
 *
 *     d = 0.127 mm · 92^((36 − n)/39)
 *
 * @param awg - n; 0 is 1/0, -1 is 2/0, -3 is 4/0. [-3 .. 40]
 * @returns d. [m]
 * @throws {DomainError} `out-of-range`
 * @see ASTM B258
 * @example awgDiameterM(18) // 0.001023687 ± 1e-9
 * @example awgDiameterM(36) // 0.000127 ± 1e-15
 */
export function awgDiameterM(awg: number): number {
  return 0.127e-3 * 92 ** ((36 - within('awg', awg, -3, 40)) / 39)
}

/** 1 + α·(T − 20 °C). */
const warming = (temperatureK: Figure) =>
  sum(exact(1 - COPPER_PER_K * COPPER_REFERENCE_K), scaled(temperatureK, COPPER_PER_K))

const squared = (figure: Figure) => product(figure, figure)
const squareRoot = (figure: Figure) =>
  propagate(Math.sqrt(figure.value), [[figure, 0.5 / Math.sqrt(figure.value)]])

/**
 * Steady temperature of a conductor with its own heat in still air.
 *
 *     I²·R′₂₀·(1 + α(T − T₂₀)) = G′·(T − Tₐ)  ⇒  T = (G′·Tₐ + q·(1 − α·T₂₀))/(G′ − α·q),  q = I²·R′₂₀
 *
 * In closed form, because resistance and heat flow are both linear in T. Above I = √(G′/(α·R′₂₀)) heat generation grows
 * faster than heat transfer.
 *
 * @param currentA - I. [A]
 * @param ohmPerMAt20 - R′₂₀. [ohm/m]
 * @param conductanceWPerMK - G′ = h·π·(d + 2·insulation), heat per length and kelvin. [W/(m K)]
 * @param ambientK - Tₐ. [K]
 * @returns T. [K]
 * @throws {DomainError} `wire-overloaded` if there is none below 300 °C
 * @see derived: power balance per length; copper standard for α
 * @example conductorTemperatureK(exact(0), exact(0.02), exact(0.05), exact(313.15)).value // 313.15 ± 1e-9
 * @example conductorTemperatureK(exact(100), exact(0.02), exact(0.05), exact(313.15)) // throws wire-overloaded
 */
export function conductorTemperatureK(
  currentA: Figure,
  ohmPerMAt20: Figure,
  conductanceWPerMK: Figure,
  ambientK: Figure,
): Figure {
  const temperatureK = steadyK(currentA, ohmPerMAt20, conductanceWPerMK, ambientK)
  if (temperatureK === undefined) {
    throw new DomainError(
      'wire-overloaded',
      `current: ${digits(currentA.value)} A heat this wire above 300 °C; expected at most ${digits(
        largestCurrentA(ohmPerMAt20, conductanceWPerMK, ambientK, exact(HOTTEST_K)).value,
        3,
      )} A, or a thicker wire`,
      { pointer: '/current', value: currentA.value },
    )
  }
  return temperatureK
}

function steadyK(
  currentA: Figure,
  ohmPerMAt20: Figure,
  conductanceWPerMK: Figure,
  ambientK: Figure,
): Figure | undefined {
  const heatWPerM = product(squared(currentA), ohmPerMAt20)
  const leaves = sum(conductanceWPerMK, scaled(heatWPerM, -COPPER_PER_K))
  const enters = sum(
    product(conductanceWPerMK, ambientK),
    scaled(heatWPerM, 1 - COPPER_PER_K * COPPER_REFERENCE_K),
  )
  return leaves.value <= 0 || enters.value / leaves.value > HOTTEST_K ? undefined : quotient(enters, leaves)
}

/**
 * Current that heats a conductor to a given temperature.
 *
 *     I = √( G′·(T − Tₐ) / (R′₂₀·(1 + α(T − T₂₀))) )
 *
 * α is the temperature coefficient of copper at T₂₀ = 20 °C.
 *
 * @param ohmPerMAt20 - R′₂₀. [ohm/m]
 * @param conductanceWPerMK - G′. [W/(m K)]
 * @param ambientK - Tₐ, below T. [K]
 * @param limitK - T. [K]
 * @returns I. [A]
 * @throws {DomainError} `limits-crossed` when the surroundings are as hot as the limit
 * @see derived: power balance per length, the inverse of `conductorTemperatureK`
 * @example conductorTemperatureK(largestCurrentA(exact(0.02), exact(0.05), exact(313.15), exact(358.15)), exact(0.02), exact(0.05), exact(313.15)).value // 358.15 ± 1e-9
 */
export function largestCurrentA(
  ohmPerMAt20: Figure,
  conductanceWPerMK: Figure,
  ambientK: Figure,
  limitK: Figure,
): Figure {
  if (limitK.value <= ambientK.value) {
    throw new DomainError(
      'limits-crossed',
      `ambient: expected less than the ${(limitK.value - ZERO_CELSIUS_K).toFixed(1)} °C limit of the insulation, got ${(ambientK.value - ZERO_CELSIUS_K).toFixed(1)} °C`,
      { pointer: '/ambient', max: limitK.value, value: ambientK.value },
    )
  }
  const gives = product(conductanceWPerMK, sum(limitK, scaled(ambientK, -1)))
  return squareRoot(quotient(gives, product(ohmPerMAt20, warming(limitK))))
}

function geometryOf(size: WireSize): { diameterM: Figure; areaM2: Figure } {
  if (size.by === 'gauge') {
    const diameterM = awgDiameterM(size.awg)
    return { diameterM: exact(diameterM), areaM2: exact((Math.PI / 4) * diameterM ** 2) }
  }
  return { areaM2: size.areaM2, diameterM: squareRoot(scaled(size.areaM2, 4 / Math.PI)) }
}

interface Setting {
  readonly returnWires: 1 | 2
  readonly fixedOhm: Figure
  readonly ambientK: Figure
  readonly thicknessM: Figure
  readonly heatTransfer: HeatTransfer
  readonly limitK: Figure
}

/** Properties of a size, independent of the current. */
function conductorOf(size: WireSize, setting: Setting) {
  const { diameterM, areaM2 } = geometryOf(size)
  const make = uncertain(1, 'wire: stranding and make', toleranceUncertainty(0.02, 0.08))
  const at20 = product(make, quotient(exact(COPPER_OHM_M), areaM2))
  const girthM = scaled(sum(diameterM, scaled(setting.thicknessM, 2)), Math.PI)
  return { diameterM, areaM2, at20, girthM, conductance: product(setting.heatTransfer.wPerM2K, girthM) }
}

/** Resistance and drop of the whole loop at the temperature of the conductor. */
function loopOf(request: WireRequest, setting: Setting, at20: Figure, conductorK: Figure) {
  const perLength = product(at20, warming(conductorK))
  const wiresM = scaled(request.lengthM, setting.returnWires)
  const loopOhm = sum(product(perLength, wiresM), setting.fixedOhm)
  return { perLength, wiresM, loopOhm, dropV: product(request.currentA, loopOhm) }
}

/** Probability that the insulation withstands a continuous current: at its limit, heat transfer is at least the heat generated. */
function insulationStands(
  currentA: Figure,
  { girthM, at20 }: { readonly girthM: Figure; readonly at20: Figure },
  { limitK, ambientK, heatTransfer }: Setting,
): number {
  const gives = product(girthM, sum(limitK, scaled(ambientK, -1)))
  const heat = product(squared(currentA), product(at20, warming(limitK)))
  return staysCoolProbability(gives, heat, heatTransfer)
}

const atMost = (margin: Figure) =>
  conformityProbability(margin.value, standardUncertainty(margin), 0, Number.POSITIVE_INFINITY)

/**
 * A wire from source to load: voltage drop, heating, current capacity, and fuse.
 *
 *     drop = I·(2·L·R′(T) + contacts),  R′(T) = ρ₂₀/A·(1 + α(T − 20 °C)),  T from the power balance per length
 *     continuous load ≤ 75 % of the fuse;  fuse ≤ current at which the insulation reaches its limit
 *     short circuit = V/(2·L·R′(T) + contacts + source);  it opens the fuse if it is at least twice the rating, with its uncertainty
 *
 * I is the current, V the supply, L the length one way, R′ the resistance per length, A the area; ρ₂₀ = 0.017241 Ω·mm²/m and α = 0.00393/K are
 * those of annealed copper. T is the temperature of the conductor under load: a short circuit draws less through hot copper.
 *
 * For a single wire in still air; in a bundle its capacity is lower (give a lower heat transfer).
 *
 * @param request - Supply [V], current [A], length one way [m], size, return path; surroundings and limits if known
 * @returns Drop, heat, temperature, fuse range, and which of the common sizes suffice
 * @throws {DomainError} `wire-overloaded`, `limits-crossed`, `out-of-range`
 * @see ASTM B258 (gauges), annealed copper standard; 75 %: common practice, no source
 * @example wire({ supplyV: exact(12), currentA: exact(0.5), lengthM: exact(5), size: { by: 'gauge', awg: 18 }, returnPath: 'wire', ambientK: exact(293.15) }).resistancePerLengthAt20.value // 0.020948 ± 1e-6
 */
export function wire(request: WireRequest): Wire {
  const taken: Assumption[] = []
  const notes: Note[] = [
    {
      code: 'disconnect-battery',
      level: 'caution',
      text: 'Disconnect the battery before you work on the wiring; fit the fuse within a handbreadth of the source, before the wire that it protects.',
    },
    {
      code: 'check-electrical-code',
      level: 'caution',
      text: 'Check wire and fuse sizes against the local electrical code and the workshop manual; those take precedence.',
    },
  ]
  const sources: SourceId[] = ['annealed-copper', 'wire-practice', 'fuse-loading', 'iso-8820-3', 'gum']
  if (request.size.by === 'gauge') sources.push('astm-b258')
  const returnWires = request.returnPath === 'wire' ? 2 : 1
  const bodyOhm =
    request.returnPath === 'wire'
      ? exact(0)
      : assumed(
          request.bodyOhm,
          uncertain(0.01, 'body: resistance of the return path', toleranceUncertainty(0.01, 0.01)),
          { field: '/body', value: '0.01 ohm, from 0 to 0.02', standing: 'common-practice' },
          taken,
        )
  const contactsOhm = assumed(
    request.contactsOhm,
    uncertain(0.01, 'contacts: resistance', toleranceUncertainty(0.01, 0.02)),
    { field: '/contactResistance', value: '0.01 ohm, from 0 to 0.03', standing: 'common-practice' },
    taken,
  )
  const ambientK = assumed(
    request.ambientK,
    uncertain(ZERO_CELSIUS_K + 40, 'surroundings: temperature', 20 / Math.sqrt(3)),
    { field: '/ambient', value: '40 °C, from 20 to 60', standing: 'common-practice' },
    taken,
  )
  const thicknessM = assumed(
    request.insulationThicknessM,
    uncertain(0.5e-3, 'insulation: thickness', toleranceUncertainty(0.25e-3, 0.3e-3)),
    {
      field: '/insulation/thickness',
      value: '0.5 mm, from 0.25 to 0.8',
      standing: 'common-practice',
    },
    taken,
  )
  const limitK = assumed(
    request.insulationLimitK,
    exact(ZERO_CELSIUS_K + 85),
    { field: '/insulation/limit', value: '85 °C, temperature class A', standing: 'from-memory' },
    taken,
  )
  if (request.insulationLimitK === undefined) sources.push('iso-6722')
  const heatTransfer = heatTransferOf(request.heatTransferWPerM2K, taken)
  const sourceOhm = assumed(
    request.sourceOhm,
    uncertain(0.02, 'source: internal resistance', toleranceUncertainty(0.015, 0.03)),
    { field: '/sourceResistance', value: '0.02 ohm, from 0.005 to 0.05', standing: 'common-practice' },
    taken,
  )
  const allowedPercent = assumed(
    request.allowedDropPercent,
    3,
    { field: '/allowedDropPercent', value: '3 %', standing: 'common-practice' },
    taken,
  )
  const setting: Setting = {
    returnWires,
    fixedOhm: sum(bodyOhm, contactsOhm),
    ambientK,
    thicknessM,
    heatTransfer,
    limitK,
  }
  const { supplyV, currentA } = request
  const conductor = conductorOf(request.size, setting)
  const conductorK = conductorTemperatureK(currentA, conductor.at20, conductor.conductance, ambientK)
  const one = { ...conductor, conductorK, ...loopOf(request, setting, conductor.at20, conductorK) }
  if (one.dropV.value >= supplyV.value) {
    throw new DomainError(
      'out-of-range',
      `current: ${digits(currentA.value)} A would drop ${digits(one.dropV.value, 3)} V in the wire, all of the ${digits(supplyV.value)} V supply; give a thicker or shorter wire, or the current that the load actually draws`,
      { pointer: '/current', value: currentA.value },
    )
  }
  const dropPercent = scaled(quotient(one.dropV, supplyV), 100)
  const standsA = largestCurrentA(one.at20, one.conductance, ambientK, limitK)
  const shortCircuitA = quotient(supplyV, sum(one.loopOhm, sourceOhm))
  const insulationProbability = insulationStands(currentA, one, setting)
  const heatPerLength = product(squared(currentA), one.perLength)

  const result: Mutable<Wire> = {
    diameterM: one.diameterM,
    areaM2: one.areaM2,
    resistancePerLengthAt20: one.at20,
    resistancePerLength: one.perLength,
    loopOhm: one.loopOhm,
    dropV: one.dropV,
    dropPercent,
    dropWithinAllowed: conformityResult(atMost(sum(exact(allowedPercent), scaled(dropPercent, -1)))),
    loadV: sum(supplyV, scaled(one.dropV, -1)),
    heatW: product(currentA, one.dropV),
    heatPerLengthWPerM: heatPerLength,
    conductorK: one.conductorK,
    conductorTemperatureRange: rangeOfTemperature(
      one.conductorK,
      (temperatureK) => insulationStands(currentA, one, { ...setting, limitK: exact(temperatureK) }),
      // Never colder than its surroundings.
      { lowestK: ambientK.value - 10 * standardUncertainty(ambientK), highestK: HOTTEST_K },
    ),
    insulationLimitK: limitK,
    insulationHolds: conformityResult(insulationProbability),
    insulationProbability,
    largestCurrentA: standsA,
    shortCircuitA,
    sizes: sizesFor(request, setting, allowedPercent),
    budget: budget(one.dropV),
    assumptions: taken,
    sources,
    notes,
  }
  const { minA, maxA } = fusesFor(currentA, standsA)
  if (minA !== undefined) result.minFuseA = minA
  if (maxA !== undefined) result.maxFuseA = maxA
  if (minA === undefined || maxA === undefined || minA > maxA) {
    notes.push({
      code: 'no-fuse-fits',
      level: 'caution',
      text: 'No blade fuse both carries this load continuously and protects this wire: use a thicker wire.',
    })
  }
  if (request.fuseA !== undefined) {
    const probability = insulationStands(exact(request.fuseA), one, setting)
    const surelyDrawsA = shortCircuitA.value - plusMinus(shortCircuitA)
    result.fuse = {
      ratingA: request.fuseA,
      carriesLoad: currentA.value <= FUSE_LOADING * request.fuseA,
      protectsWire: conformityResult(probability),
      probability,
      opensOnShort: surelyDrawsA >= QUICK_OPENING * request.fuseA,
    }
    notes.push(...fuseNotes(result.fuse, { maxA, standsA, shortCircuitA }))
  }
  if (result.insulationHolds !== 'conforms') {
    notes.push({
      code: 'wire-too-hot',
      level: 'caution',
      text: 'The insulation is not proven to withstand the temperature of the conductor: use the next thicker wire, or measure the temperature of the surroundings.',
    })
  }
  if (request.returnPath === 'body') {
    notes.push({
      code: 'body-return',
      level: 'info',
      text: 'The return path is the body: rust and paint at a ground point raise its resistance far above the assumed value. Measure the drop from the ground side of the load to the negative pole under load.',
    })
  }
  return result
}

/** Cautions for the fitted or planned fuse. */
function fuseNotes(
  fuse: FittedFuse,
  wire: { readonly maxA: number | undefined; readonly standsA: Figure; readonly shortCircuitA: Figure },
): Note[] {
  const notes: Note[] = []
  const ampere = (figure: Figure) => `${digits(figure.value, 3)} ± ${digits(plusMinus(figure), 2)} A`
  if (fuse.protectsWire !== 'conforms') {
    const smaller = wire.maxA === undefined ? '' : `a fuse of at most ${digits(wire.maxA)} A, or `
    notes.push({
      code: 'fuse-above-wire',
      level: 'caution',
      text: `A fuse of ${digits(fuse.ratingA)} A is not proven to protect this wire, which carries ${ampere(wire.standsA)} continuously: an overload can burn the wire before the fuse opens. Use ${smaller}a thicker wire.`,
    })
  }
  if (!fuse.carriesLoad) {
    notes.push({
      code: 'fuse-below-load',
      level: 'caution',
      text: `A fuse of ${digits(fuse.ratingA)} A does not carry this load continuously: the load is more than three quarters of the rating, and the fuse may open in use. Use a larger fuse if the wire can carry its rating.`,
    })
  }
  if (!fuse.opensOnShort) {
    notes.push({
      code: 'short-may-not-open-fuse',
      level: 'caution',
      text: `A short circuit at the far end draws ${ampere(wire.shortCircuitA)}, which is not proven to be twice the fuse rating: it may feed a fire for long before the fuse opens. Use a smaller fuse or a thicker wire.`,
    })
  }
  return notes
}

/** Smallest fuse that carries the load, and largest within the lower end of the wire's capacity. */
function fusesFor(currentA: Figure, standsA: Figure) {
  return {
    minA: smallestFuseA(currentA.value, FUSE_LOADING),
    maxA: largestFuseA(Math.max(0, standsA.value - plusMinus(standsA))),
  }
}

function sizesFor(request: WireRequest, setting: Setting, allowedPercent: number): WireSizeRow[] {
  const offered: WireSize[] =
    request.size.by === 'gauge'
      ? OFFERED_AWG.map((awg) => ({ by: 'gauge', awg }))
      : OFFERED_MM2.map((mm2) => ({ by: 'area', areaM2: exact(mm2 * 1e-6) }))
  return offered.map((size) => {
    const conductor = conductorOf(size, setting)
    const { areaM2, at20, conductance } = conductor
    const conductorK = steadyK(request.currentA, at20, conductance, setting.ambientK)
    if (conductorK === undefined) return { size, areaM2: areaM2.value, suits: false }
    const dropPercent = (100 * loopOf(request, setting, at20, conductorK).dropV.value) / request.supplyV.value
    const cool = insulationStands(request.currentA, conductor, setting)
    const standsA = largestCurrentA(at20, conductance, setting.ambientK, setting.limitK)
    const { minA, maxA } = fusesFor(request.currentA, standsA)
    return {
      size,
      areaM2: areaM2.value,
      dropPercent,
      conductorK: conductorK.value,
      suits:
        dropPercent <= allowedPercent &&
        conformityResult(cool) === 'conforms' &&
        minA !== undefined &&
        maxA !== undefined &&
        minA <= maxA,
    }
  })
}
