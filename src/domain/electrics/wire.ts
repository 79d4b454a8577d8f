import { DomainError } from '../errors.js'
import type { Assumption } from '../measure/assumptions.js'
import { type BudgetLine, budget } from '../measure/budget.js'
import { type ConformityResult, conformityProbability, conformityResult } from '../measure/conformity.js'
import { digits } from '../measure/digits.js'
import { exact, type Figure, toleranceUncertainty, uncertain } from '../measure/figure.js'
import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import { product, quotient, scaled, sum } from '../measure/propagation.js'
import type { SourceId } from '../measure/sources.js'
import { plusMinus, standardUncertainty } from '../measure/uncertainty.js'
import type { Mutable } from '../mutable.js'
import {
  awgDiameterM,
  COPPER_OHM_M,
  conductorTemperatureK,
  HOTTEST_K,
  largestCurrentA,
  squared,
  squareRoot,
  steadyK,
  warming,
} from './conductor.js'
import { FUSE_LOADING, largestFuseA, QUICK_OPENING, smallestFuseA } from './fuses.js'
import { rangeOfTemperature, staysCoolProbability, type TemperatureRange } from './still-air.js'
import { type WireRequest, type WireSetting, type WireSize, wireSetting } from './wire-setting.js'

/** Gauges and areas listed as alternatives. */
const OFFERED_AWG = [26, 24, 22, 20, 18, 16, 14, 12, 10, 8, 6, 4] as const
const OFFERED_MM2 = [0.22, 0.35, 0.5, 0.75, 1, 1.5, 2.5, 4, 6, 10, 16, 25] as const

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
  readonly areaM2: number
  readonly suits: boolean
  readonly awg?: number
  /** Both absent if the wire never reaches a steady temperature. */
  readonly dropPercent?: number
  readonly conductorTemperatureK?: number
}

export interface Wire {
  readonly diameterM: Figure
  readonly areaM2: Figure
  readonly resistancePerLengthAt20OhmPerM: Figure
  readonly resistancePerLengthOhmPerM: Figure
  readonly loopResistanceOhm: Figure
  readonly dropV: Figure
  readonly dropPercent: Figure
  readonly dropWithinAllowed: ConformityResult
  readonly loadVoltageV: Figure
  readonly heatW: Figure
  readonly heatPerLengthWPerM: Figure
  /** Its uncertainty is the longer side of the range. */
  readonly conductorTemperatureK: { readonly value: number; readonly plusMinus: number }
  /** An upper end of 300 °C means that the wire may not reach a steady temperature. */
  readonly conductorTemperatureRange: TemperatureRange
  readonly insulation: {
    readonly limitK: Figure
    readonly probability: number
    readonly result: ConformityResult
  }
  readonly largestCurrentA: Figure
  readonly shortCircuitCurrentA: Figure
  readonly sizes: readonly WireSizeRow[]
  readonly budget: readonly BudgetLine[]
  readonly assumptions: readonly Assumption[]
  /** Smallest standard rating that carries the load, and largest that protects the wire. */
  readonly minFuseA?: number
  readonly maxFuseA?: number
  readonly fuse?: FittedFuse
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

function geometryOf(size: WireSize): { diameterM: Figure; areaM2: Figure } {
  if ('awg' in size) {
    const diameterM = awgDiameterM(size.awg)
    return { diameterM: exact(diameterM), areaM2: exact((Math.PI / 4) * diameterM ** 2) }
  }
  return { areaM2: size.areaM2, diameterM: squareRoot(scaled(size.areaM2, 4 / Math.PI)) }
}

type Conductor = ReturnType<typeof conductorOf>

/** Properties of a size, independent of the current. */
function conductorOf(size: WireSize, setting: WireSetting) {
  const { diameterM, areaM2 } = geometryOf(size)
  const make = uncertain(1, 'wire: stranding and make', toleranceUncertainty(0.02, 0.08))
  const at20 = product(make, quotient(exact(COPPER_OHM_M), areaM2))
  const girthM = scaled(sum(diameterM, scaled(setting.thicknessM, 2)), Math.PI)
  return { diameterM, areaM2, at20, girthM, conductance: product(setting.heatTransfer.wPerM2K, girthM) }
}

/** Resistance and drop of the whole loop at the temperature of the conductor. */
function loopOf(request: WireRequest, setting: WireSetting, at20: Figure, conductorK: Figure) {
  const perLength = product(at20, warming(conductorK))
  const wiresM = scaled(request.lengthM, setting.returnWires)
  const loopOhm = sum(product(perLength, wiresM), setting.fixedOhm)
  return { perLength, loopOhm, dropV: product(request.currentA, loopOhm) }
}

/** Probability that the insulation withstands a continuous current: at its limit, heat transfer is at least the heat generated. */
function insulationStands(
  currentA: Figure,
  { girthM, at20 }: Conductor,
  { limitK, ambientK, heatTransfer }: WireSetting,
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
 * @throws {DomainError} `wire-overloaded`, `limits-crossed`, `out-of-range`; `fields-exclude-each-other` for a resistance of the body without
 *   returnPath body
 * @see ASTM B258 (gauges), annealed copper standard; 75 %: common practice, no source
 * @example wire({ supplyV: exact(12), currentA: exact(0.5), lengthM: exact(5), size: { awg: 18 }, ambientK: exact(293.15) }).resistancePerLengthAt20OhmPerM.value // 0.020948 ± 1e-6
 */
export function wire(request: WireRequest): Wire {
  if (request.returnPath !== 'body' && request.bodyResistanceOhm !== undefined) {
    throw new DomainError(
      'fields-exclude-each-other',
      'bodyResistance: has no meaning unless returnPath is body',
      { pointer: '/bodyResistance' },
    )
  }
  const taken: Assumption[] = []
  const setting = wireSetting(request, taken)
  const { ambientK, limitK } = setting
  const { supplyV, currentA } = request
  const conductor = conductorOf(request.size, setting)
  const conductorK = conductorTemperatureK(currentA, conductor.at20, conductor.conductance, ambientK)
  const { perLength, loopOhm, dropV } = loopOf(request, setting, conductor.at20, conductorK)
  if (dropV.value >= supplyV.value) {
    throw new DomainError(
      'out-of-range',
      `current: ${digits(currentA.value)} A would drop ${digits(dropV.value, 3)} V in the wire, all of the ${digits(supplyV.value)} V supply; give a thicker or shorter wire, or the current that the load actually draws`,
      { pointer: '/current', value: currentA.value },
    )
  }
  const dropPercent = scaled(quotient(dropV, supplyV), 100)
  const largestA = largestCurrentA(conductor.at20, conductor.conductance, ambientK, limitK)
  const shortCircuitCurrentA = quotient(supplyV, sum(loopOhm, setting.sourceOhm))
  const insulationProbability = insulationStands(currentA, conductor, setting)
  const range = rangeOfTemperature(
    conductorK,
    (temperatureK) => insulationStands(currentA, conductor, { ...setting, limitK: exact(temperatureK) }),
    // Never colder than its surroundings.
    { lowestK: ambientK.value - 10 * standardUncertainty(ambientK), highestK: HOTTEST_K },
  )
  const allowed = sum(exact(setting.allowedDropPercent), scaled(dropPercent, -1))

  const result: Mutable<Wire> = {
    diameterM: conductor.diameterM,
    areaM2: conductor.areaM2,
    resistancePerLengthAt20OhmPerM: conductor.at20,
    resistancePerLengthOhmPerM: perLength,
    loopResistanceOhm: loopOhm,
    dropV,
    dropPercent,
    dropWithinAllowed: conformityResult(atMost(allowed)),
    loadVoltageV: sum(supplyV, scaled(dropV, -1)),
    heatW: product(currentA, dropV),
    heatPerLengthWPerM: product(squared(currentA), perLength),
    conductorTemperatureK: { value: conductorK.value, plusMinus: range.plusMinusK },
    conductorTemperatureRange: range,
    insulation: {
      limitK,
      probability: insulationProbability,
      result: conformityResult(insulationProbability),
    },
    largestCurrentA: largestA,
    shortCircuitCurrentA,
    sizes: sizesFor(request, setting),
    budget: budget(dropV),
    assumptions: taken,
    ...fusesFor(currentA, largestA),
    sources: sourcesOf(request),
    notes: [],
  }
  if (request.fuseA !== undefined)
    result.fuse = fittedFuse(request.fuseA, currentA, shortCircuitCurrentA, conductor, setting)
  result.notes = wireNotes(request, result)
  return result
}

function sourcesOf({ size, insulation }: WireRequest): SourceId[] {
  const sources: SourceId[] = ['annealed-copper', 'wire-practice', 'fuse-loading', 'iso-8820-3', 'gum']
  if ('awg' in size) sources.push('astm-b258')
  if (insulation?.limitK === undefined) sources.push('iso-6722')
  return sources
}

function fittedFuse(
  ratingA: number,
  currentA: Figure,
  shortCircuitA: Figure,
  conductor: Conductor,
  setting: WireSetting,
): FittedFuse {
  const probability = insulationStands(exact(ratingA), conductor, setting)
  return {
    ratingA,
    carriesLoad: currentA.value <= FUSE_LOADING * ratingA,
    protectsWire: conformityResult(probability),
    probability,
    opensOnShort: shortCircuitA.value - plusMinus(shortCircuitA) >= QUICK_OPENING * ratingA,
  }
}

function wireNotes(request: WireRequest, result: Wire): Note[] {
  const { fuse, insulation } = result
  const notes: Note[] = [
    cautionNote(
      'disconnect-battery',
      'Disconnect the battery before you work on the wiring; fit the fuse within a handbreadth of the source, before the wire that it protects.',
    ),
    cautionNote(
      'check-electrical-code',
      'Check wire and fuse sizes against the local electrical code and the workshop manual; those take precedence.',
    ),
  ]
  if (!fits(result)) {
    notes.push(
      cautionNote(
        'no-fuse-fits',
        'No blade fuse both carries this load continuously and protects this wire: use a thicker wire.',
      ),
    )
  }
  if (fuse !== undefined) notes.push(...fuseNotes(fuse, result))
  if (insulation.result !== 'conforms') {
    notes.push(
      cautionNote(
        'wire-too-hot',
        'The insulation is not proven to withstand the temperature of the conductor: use the next thicker wire, or measure the temperature of the surroundings.',
      ),
    )
  }
  if (request.returnPath === 'body') {
    notes.push(
      infoNote(
        'body-return',
        'The return path is the body: rust and paint at a ground point raise its resistance far above the assumed value. Measure the drop from the ground side of the load to the negative pole under load.',
      ),
    )
  }
  return notes
}

/** Cautions for the fitted or planned fuse. */
function fuseNotes(
  fuse: FittedFuse,
  wire: Pick<Wire, 'maxFuseA' | 'largestCurrentA' | 'shortCircuitCurrentA'>,
): Note[] {
  const notes: Note[] = []
  const ampere = (figure: Figure) => `${digits(figure.value, 3)} ± ${digits(plusMinus(figure), 2)} A`
  if (fuse.protectsWire !== 'conforms') {
    const smaller = wire.maxFuseA === undefined ? '' : `a fuse of at most ${digits(wire.maxFuseA)} A, or `
    notes.push(
      cautionNote(
        'fuse-above-wire',
        `A fuse of ${digits(fuse.ratingA)} A is not proven to protect this wire, which carries ${ampere(wire.largestCurrentA)} continuously: an overload can burn the wire before the fuse opens. Use ${smaller}a thicker wire.`,
      ),
    )
  }
  if (!fuse.carriesLoad) {
    notes.push(
      cautionNote(
        'fuse-below-load',
        `A fuse of ${digits(fuse.ratingA)} A does not carry this load continuously: the load is more than three quarters of the rating, and the fuse may open in use. Use a larger fuse if the wire can carry its rating.`,
      ),
    )
  }
  if (!fuse.opensOnShort) {
    notes.push(
      cautionNote(
        'short-may-not-open-fuse',
        `A short circuit at the far end draws ${ampere(wire.shortCircuitCurrentA)}, which is not proven to be twice the fuse rating: it may feed a fire for long before the fuse opens. Use a smaller fuse or a thicker wire.`,
      ),
    )
  }
  return notes
}

type Fuses = Pick<Wire, 'minFuseA' | 'maxFuseA'>

/** Smallest fuse that carries the load, and largest within the lower end of the wire's capacity. */
function fusesFor(currentA: Figure, capacityA: Figure): Fuses {
  const fuses: Mutable<Fuses> = {}
  const minFuseA = smallestFuseA(currentA.value, FUSE_LOADING)
  if (minFuseA !== undefined) fuses.minFuseA = minFuseA
  const maxFuseA = largestFuseA(Math.max(0, capacityA.value - plusMinus(capacityA)))
  if (maxFuseA !== undefined) fuses.maxFuseA = maxFuseA
  return fuses
}

/** Whether one fuse both carries the load and protects the wire. */
const fits = ({ minFuseA, maxFuseA }: Fuses) =>
  minFuseA !== undefined && maxFuseA !== undefined && minFuseA <= maxFuseA

function sizesFor(request: WireRequest, setting: WireSetting): WireSizeRow[] {
  const offered: WireSize[] =
    'awg' in request.size
      ? OFFERED_AWG.map((awg) => ({ awg }))
      : OFFERED_MM2.map((mm2) => ({ areaM2: exact(mm2 * 1e-6) }))
  return offered.map((size) => sizeRow(size, request, setting))
}

function sizeRow(size: WireSize, request: WireRequest, setting: WireSetting): WireSizeRow {
  const conductor = conductorOf(size, setting)
  const { areaM2, at20, conductance } = conductor
  const row: Mutable<WireSizeRow> = { areaM2: areaM2.value, suits: false }
  if ('awg' in size) row.awg = size.awg
  const conductorK = steadyK(request.currentA, at20, conductance, setting.ambientK)
  if (conductorK === undefined) return row
  row.dropPercent = (100 * loopOf(request, setting, at20, conductorK).dropV.value) / request.supplyV.value
  row.conductorTemperatureK = conductorK.value
  const capacityA = largestCurrentA(at20, conductance, setting.ambientK, setting.limitK)
  row.suits =
    row.dropPercent <= setting.allowedDropPercent &&
    conformityResult(insulationStands(request.currentA, conductor, setting)) === 'conforms' &&
    fits(fusesFor(request.currentA, capacityA))
  return row
}
