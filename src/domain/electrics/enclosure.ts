import { DomainError } from '../errors.js'
import { type Assumption, assumed } from '../measure/assumptions.js'
import { type BudgetLine, budget } from '../measure/budget.js'
import { type ConformityResult, conformityProbability, conformityResult } from '../measure/conformity.js'
import { exact, type Figure, uncertain } from '../measure/figure.js'
import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import { product, quotient, scaled, sum } from '../measure/propagation.js'
import type { SourceId, Standing } from '../measure/sources.js'
import { plusMinus, standardUncertainty } from '../measure/uncertainty.js'
import type { Mutable } from '../mutable.js'
import {
  type HeatTransfer,
  heatTransferOf,
  rangeOfTemperature,
  staysCoolProbability,
  type TemperatureRange,
} from './still-air.js'

const ZERO_CELSIUS_K = 273.15

/**
 * Places for a box, and the temperature there.
 *
 * | place | temperature | standing |
 * |---|---|---|
 * | dashboard of a car parked in sun | 69.4 Cel, the mean of a study | Vanos et al. 2018, published |
 * | dashboard in sun on a hot day, any color and glass | 75 Cel, from 60 to 90 | common practice, no source |
 * | engine compartment, away from the exhaust | 100 Cel, from 80 to 120 | common practice, no source |
 */
export const PLACES = {
  'dashboard-in-sun': {
    celsius: 69.4,
    halfRangeK: 0,
    standing: 'published',
    source: 'parked-car-temperatures',
  },
  'dashboard-on-hot-day': {
    celsius: 75,
    halfRangeK: 15,
    standing: 'common-practice',
    source: 'enclosure-practice',
  },
  'engine-compartment': {
    celsius: 100,
    halfRangeK: 20,
    standing: 'common-practice',
    source: 'enclosure-practice',
  },
} as const satisfies Record<
  string,
  { celsius: number; halfRangeK: number; standing: Standing; source: SourceId }
>
export type Place = keyof typeof PLACES

/** A temperature [Cel] with half its range. */
interface Tabled {
  readonly celsius: number
  readonly halfRangeK: number
}

/**
 * Materials of boxes: glass transition of the plastics, and service temperature, with half the range of each.
 *
 * Glass transitions are those of secondary tables, that of ASA from memory. Where tables give a single value, makes are assumed to differ from it by 3 K, common
 * practice without a source. Service temperatures are from memory: above them a plastic ages, aluminum loses its temper, zinc alloys creep, a coat
 * of zinc peels off steel, and stainless steel becomes prone to corrosion between its grains.
 */
export const ENCLOSURE_MATERIALS = {
  pla: { name: 'PLA', glassTransition: within(59, 3), service: within(50, 5) },
  petg: { name: 'PETG', glassTransition: within(77, 3), service: within(65, 5) },
  abs: { name: 'ABS', glassTransition: within(96, 6), service: within(80, 10) },
  pc: { name: 'PC', glassTransition: within(150, 3), service: within(120, 10) },
  asa: { name: 'ASA', glassTransition: within(100, 5), service: within(85, 10) },
  'aluminum-5052-sheet': { name: 'aluminum sheet 5052', service: within(150, 20) },
  'aluminum-6061-sheet': { name: 'aluminum sheet 6061', service: within(150, 20) },
  'aluminum-die-cast': { name: 'aluminum die-casting alloy EN AC-44300', service: within(150, 20) },
  'zinc-die-cast': { name: 'zinc die-casting alloy ZP3', service: within(100, 10) },
  'steel-sheet': { name: 'zinc-coated steel sheet', service: within(200, 20) },
  'stainless-304-sheet': { name: 'stainless steel sheet 304', service: within(425, 25) },
} as const satisfies Record<string, { name: string; glassTransition?: Tabled; service: Tabled }>

function within(celsius: number, halfRangeK: number): Tabled {
  return { celsius, halfRangeK }
}

export type EnclosureMaterial = keyof typeof ENCLOSURE_MATERIALS

/** A built-in material, or one with its own glass transition. */
export type MaterialChoice =
  | { readonly kind: EnclosureMaterial }
  | { readonly name: string; readonly glassTransitionK: Figure }

const BUILT_IN: readonly MaterialChoice[] = (Object.keys(ENCLOSURE_MATERIALS) as EnclosureMaterial[]).map(
  (kind) => ({ kind }),
)

export interface EnclosureRequest {
  readonly place?: Place
  /** Measured temperature of the surroundings; replaces that of the place. */
  readonly ambientK?: Figure
  /** Heat from the parts inside. */
  readonly powerW?: Figure
  readonly surfaceM2?: Figure
  readonly heatTransferWPerM2K?: Figure
  /** Margin below the glass transition for a loaded part. [K] */
  readonly marginK?: Figure
  /** Default: all built-in materials. */
  readonly materials?: readonly MaterialChoice[]
  /** Rated maximum temperature of the parts inside. */
  readonly partsRatedToK?: Figure
}

/** A temperature, or a difference of two; the uncertainty is the longer side of its range. */
export interface RangedTemperature {
  readonly value: number
  readonly plusMinus: number
}

export interface MaterialRow {
  readonly name: string
  /** Of a plastic. */
  readonly glassTransitionK?: Figure
  /** For years of use; absent for a material of the caller. */
  readonly serviceTemperatureK?: Figure
  /** What the maximum usable temperature follows from. */
  readonly basis: 'glass-transition' | 'service-temperature'
  /** Maximum usable temperature of the material. */
  readonly usableToK: Figure
  /** Usable temperature minus that of the box [K]. */
  readonly marginK: RangedTemperature
  readonly marginRange: TemperatureRange
  readonly probability: number
  readonly result: ConformityResult
}

export interface Enclosure {
  readonly ambientK: Figure
  readonly riseK: RangedTemperature
  readonly riseRange: TemperatureRange
  readonly boxTemperatureK: RangedTemperature
  readonly boxTemperatureRange: TemperatureRange
  readonly materials: readonly MaterialRow[]
  readonly parts?: {
    readonly ratedToK: Figure
    readonly probability: number
    readonly result: ConformityResult
  }
  readonly budget: readonly BudgetLine[]
  readonly assumptions: readonly Assumption[]
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/** Maximum number of materials of a box in exact surroundings whose answer is computed on the request thread. */
const LIGHT_MATERIALS = 4

/**
 * Whether the ranges of an enclosure would block the thread that answers requests: with an unknown heat transfer each temperature is a search over its
 * distribution, which is an integral over the surroundings if these are uncertain too.
 *
 *     heat, h unknown, and: more than 4 materials, or Tₐ uncertain
 *
 * Tₐ is the temperature around the box, h the heat transfer of its surface.
 *
 * @param request - Place or temperature [K], heat [W], surface [m²], materials
 * @returns true for ranges of more than some tens of milliseconds
 * @see `rangeOfTemperature`; the limit is common practice, no source: one temperature in uncertain surroundings takes some 20 ms
 * @example enclosureIsHeavy({ place: 'engine-compartment', powerW: exact(1), surfaceM2: exact(0.02) }) // true
 * @example enclosureIsHeavy({ place: 'dashboard-in-sun', powerW: exact(1), surfaceM2: exact(0.02), materials: [{ kind: 'abs' }] }) // false
 */
export function enclosureIsHeavy(request: EnclosureRequest): boolean {
  const { powerW, heatTransferWPerM2K, ambientK, place, materials } = request
  if (powerW === undefined || heatTransferWPerM2K !== undefined) return false
  const isUncertain =
    ambientK === undefined
      ? place !== undefined && PLACES[place].halfRangeK > 0
      : standardUncertainty(ambientK) > 0
  return isUncertain || (materials ?? BUILT_IN).length > LIGHT_MATERIALS
}

/**
 * Temperature of a closed box, compared with the limits of its material and of the parts inside.
 *
 *     T = Tₐ + P/(h·A);  usable to T_g − margin, a metal to its service temperature
 *
 * Tₐ is the temperature around the box, P the power dissipated inside, A its surface, h the heat transfer of the surface,
 * T_g the glass transition of the material.
 *
 * The rise is proportional to 1/h, so its 95 % range is longer on the hot side: for an h anywhere from 5 to 15 W/(m² K) and no
 * other uncertainty, from P/(A·14.77) to P/(A·5.23).
 *
 * At the glass transition a plastic softens; under the load of a screw or spring it creeps below that. One temperature
 * represents the whole box.
 *
 * @param request - Place or temperature [K], heat [W], surface [m²], materials
 * @returns Temperature of the box, and for each material whether it withstands that
 * @throws {DomainError} `needs-another-field` for heat without a surface or neither place nor temperature, `out-of-range` if the uncertainty
 *   of surface or heat transfer includes zero heat transfer
 * @see Vanos et al. 2018 (dashboard in sun); material tables (glass transitions); service temperatures: from memory; margin: common practice
 * @example enclosure({ place: 'dashboard-in-sun' }).materials[0].result // "does-not-conform"
 * @example enclosure({ place: 'dashboard-in-sun', powerW: exact(1), surfaceM2: exact(0.02), heatTransferWPerM2K: exact(10) }).boxTemperatureK.value // 347.55 ± 1e-9
 * @example enclosure({ place: 'dashboard-in-sun', powerW: exact(1), surfaceM2: exact(0.02) }).riseRange.maxK // 9.5648 ± 1e-4
 */
export function enclosure(request: EnclosureRequest): Enclosure {
  const taken: Assumption[] = []
  const sources: SourceId[] = ['gum', 'glass-transitions', 'service-temperatures', 'enclosure-practice']
  const ambientK = surroundingOf(request, taken, sources)
  const heat = heatOf(request, taken)
  const riseK =
    heat === undefined ? exact(0) : quotient(heat.powerW, product(heat.transfer.wPerM2K, heat.surfaceM2))
  const boxK = sum(ambientK, riseK)
  const marginK = assumed(
    request.marginK,
    exact(10),
    { field: '/margin', value: '10 K below the glass transition', standing: 'common-practice' },
    taken,
  )
  const materials = (request.materials ?? BUILT_IN).map((choice) =>
    materialRow(choice, marginK, { ambientK, boxK, heat }),
  )
  const riseRange = rangeOf(riseK, exact(0), heat)
  const boxTemperatureRange = rangeOf(boxK, scaled(ambientK, -1), heat)
  const result: Mutable<Enclosure> = {
    ambientK,
    riseK: { value: riseK.value, plusMinus: riseRange.plusMinusK },
    riseRange,
    boxTemperatureK: { value: boxK.value, plusMinus: boxTemperatureRange.plusMinusK },
    boxTemperatureRange,
    materials,
    budget: budget(boxK),
    assumptions: taken,
    sources,
    notes: [],
  }
  const { partsRatedToK } = request
  if (partsRatedToK !== undefined) {
    result.parts = { ratedToK: partsRatedToK, ...standsUp(sum(partsRatedToK, scaled(ambientK, -1)), heat) }
  }
  result.notes = enclosureNotes(result, request.place)
  return result
}

function materialRow(
  choice: MaterialChoice,
  keptK: Figure,
  box: { readonly ambientK: Figure; readonly boxK: Figure; readonly heat: Heat | undefined },
): MaterialRow {
  const limits = materialOf(choice)
  const usableToK =
    limits.basis === 'glass-transition'
      ? sum(limits.glassTransitionK, scaled(keptK, -1))
      : limits.serviceTemperatureK
  const marginK = sum(usableToK, scaled(box.boxK, -1))
  const roomK = sum(usableToK, scaled(box.ambientK, -1))
  const { minK, maxK, plusMinusK } = rangeOf(scaled(marginK, -1), roomK, box.heat)
  return {
    ...limits,
    usableToK,
    marginK: { value: marginK.value, plusMinus: plusMinusK },
    marginRange: { minK: -maxK, maxK: -minK, plusMinusK },
    ...standsUp(roomK, box.heat),
  }
}

function enclosureNotes(
  { materials, parts, boxTemperatureRange }: Enclosure,
  place: Place | undefined,
): Note[] {
  const notes: Note[] = []
  if (place === 'dashboard-in-sun') {
    notes.push(
      infoNote(
        'dashboard-mean',
        'The temperature of the dashboard is the mean of one study: a dark dashboard behind flat glass gets hotter. The place dashboard-on-hot-day is a range.',
      ),
    )
  }
  if (materials.some(({ basis }) => basis === 'glass-transition')) {
    notes.push(
      infoNote(
        'plastic-in-sunlight',
        'Sunlight makes most plastics brittle: ASA is made for it; paint or cover PLA, PETG, ABS and PC (common practice, no source).',
      ),
    )
  }
  const aging = materials.filter(
    ({ basis, serviceTemperatureK }) =>
      basis === 'glass-transition' &&
      serviceTemperatureK !== undefined &&
      serviceTemperatureK.value < boxTemperatureRange.maxK,
  )
  if (aging.length > 0) {
    notes.push(
      infoNote(
        'above-service-temperature',
        `The box may get warmer than the service temperature of ${aging.map(({ name }) => name).join(', ')}: it may keep its shape, but it ages there.`,
      ),
    )
  }
  if (parts !== undefined && parts.result !== 'conforms') {
    notes.push(
      cautionNote(
        'parts-too-hot',
        'The parts inside are not proven to withstand the temperature of the box: move it out of the sun or away from the engine, or use parts with a wider range.',
      ),
    )
  }
  if (materials.some(({ result }) => result !== 'conforms')) {
    notes.push(
      cautionNote(
        'enclosure-softens',
        'At least one material is not proven to keep its shape here: a box that softens can let a bare circuit touch metal, or let a pick-up bracket move into a rotating part.',
      ),
    )
  }
  return notes
}

/** Whether the box stays below a limit; the rise is proportional to 1/h. */
function standsUp(roomK: Figure, heat: Heat | undefined): { probability: number; result: ConformityResult } {
  const probability =
    heat === undefined
      ? conformityProbability(roomK.value, standardUncertainty(roomK), 0, Number.POSITIVE_INFINITY)
      : staysCoolProbability(product(heat.surfaceM2, roomK), heat.powerW, heat.transfer)
  return { probability, result: conformityResult(probability) }
}

/** Upper end of the temperature search: any box that transfers heat stays below. [K] */
const BEYOND_ANY_K = 1e12

/** Range of the rise minus its reference; its estimate is `differenceK`. */
function rangeOf(differenceK: Figure, lessK: Figure, heat: Heat | undefined): TemperatureRange {
  if (heat === undefined || isExact(heat)) {
    const plusMinusK = plusMinus(differenceK)
    return { minK: differenceK.value - plusMinusK, maxK: differenceK.value + plusMinusK, plusMinusK }
  }
  const range = rangeOfTemperature(
    differenceK,
    (temperatureK) =>
      staysCoolProbability(
        product(heat.surfaceM2, sum(exact(temperatureK), lessK)),
        heat.powerW,
        heat.transfer,
      ),
    // The cold side is shorter: ten standard uncertainties below, the probability is zero.
    { lowestK: differenceK.value - 10 * standardUncertainty(differenceK), highestK: BEYOND_ANY_K },
  )
  if (range.maxK < BEYOND_ANY_K) return range
  const { surfaceM2, transfer } = heat
  const share = (figure: Figure) => standardUncertainty(figure) / figure.value
  const field = !transfer.assumed && share(transfer.wPerM2K) >= share(surfaceM2) ? 'heatTransfer' : 'surface'
  throw new DomainError(
    'out-of-range',
    `${field}: expected an uncertainty well below the value; with the given one the heat transfer may be zero, and the temperature of the box has no upper bound`,
    { pointer: `/${field}` },
  )
}

/** The rise is then linear in the remaining uncertain inputs, so its distribution is normal. */
const isExact = ({ surfaceM2, transfer }: Heat) =>
  standardUncertainty(surfaceM2) === 0 && standardUncertainty(transfer.wPerM2K) === 0

function surroundingOf(request: EnclosureRequest, taken: Assumption[], sources: SourceId[]): Figure {
  if (request.ambientK !== undefined) {
    sources.push('caller-reading')
    return request.ambientK
  }
  if (request.place === undefined) {
    throw new DomainError(
      'needs-another-field',
      'ambient: give the temperature around the box, or the place of the box',
      { pointer: '/ambient' },
    )
  }
  const { celsius, halfRangeK, standing, source } = PLACES[request.place]
  sources.push(source)
  taken.push({
    field: '/ambient',
    value: halfRangeK === 0 ? `${celsius} °C` : `${celsius} °C, within ${halfRangeK} K`,
    standing,
  })
  return uncertain(ZERO_CELSIUS_K + celsius, 'surroundings: temperature', halfRangeK / Math.sqrt(3))
}

/** Heat from the parts inside, and its transfer to the surroundings. */
interface Heat {
  readonly powerW: Figure
  readonly surfaceM2: Figure
  readonly transfer: HeatTransfer
}

function heatOf(request: EnclosureRequest, taken: Assumption[]): Heat | undefined {
  if (request.powerW === undefined) {
    taken.push({ field: '/power', value: '0 W: no heat source inside', standing: 'common-practice' })
    return undefined
  }
  if (request.surfaceM2 === undefined) {
    throw new DomainError(
      'needs-another-field',
      'surface: is needed with power; give the outside area of the box',
      {
        pointer: '/surface',
      },
    )
  }
  return {
    powerW: request.powerW,
    surfaceM2: request.surfaceM2,
    transfer: heatTransferOf(request.heatTransferWPerM2K, taken),
  }
}

/** Temperatures of a material, and which of them limits its use: a plastic softens at its glass transition. */
type MaterialLimits = { readonly name: string } & (
  | {
      readonly basis: 'glass-transition'
      readonly glassTransitionK: Figure
      readonly serviceTemperatureK?: Figure
    }
  | { readonly basis: 'service-temperature'; readonly serviceTemperatureK: Figure }
)

function materialOf(choice: MaterialChoice): MaterialLimits {
  if ('name' in choice) return { ...choice, basis: 'glass-transition' }
  const material = ENCLOSURE_MATERIALS[choice.kind]
  const { name } = material
  const figure = ({ celsius, halfRangeK }: Tabled, what: string) =>
    uncertain(ZERO_CELSIUS_K + celsius, `${name}: ${what}`, halfRangeK / Math.sqrt(3))
  const serviceTemperatureK = figure(material.service, 'service temperature')
  return 'glassTransition' in material
    ? {
        name,
        basis: 'glass-transition',
        glassTransitionK: figure(material.glassTransition, 'glass transition'),
        serviceTemperatureK,
      }
    : { name, basis: 'service-temperature', serviceTemperatureK }
}
