import { DomainError } from '../errors.js'
import { type Assumption, assumed } from '../measure/assumptions.js'
import { digits } from '../measure/digits.js'
import {
  type BudgetLine,
  budget,
  exact,
  type Figure,
  plusMinus,
  product,
  quotient,
  scaled,
  sum,
  uncertain,
} from '../measure/figure.js'
import type { Note } from '../measure/notes.js'
import type { SourceId } from '../measure/sources.js'
import type { Mutable } from '../mutable.js'
import { FUSE_LOADING, largestFuseA, smallestFuseA } from './fuses.js'
import { type ClampDuty, loadDumpClamp } from './load-dump.js'
import { SUPPLY_LEVELS, type SupplyCode, type SupplyLevels, type SupplySystem } from './supply-levels.js'

export interface SupplyLoad {
  readonly name: string
  readonly currentA: Figure
  /** Directly from the battery, or from the converter. */
  readonly feed: 'battery' | 'converter'
}

export interface Converter {
  readonly kind: 'step-down' | 'linear'
  readonly outputV: Figure
  /** Efficiency of a step-down converter, as a fraction. */
  readonly efficiency?: Figure
  /** Quiescent current, not included in the efficiency. */
  readonly ownCurrentA?: Figure
  /** Minimum difference between input and output. */
  readonly dropoutV?: Figure
  /** Ratings of the input, from its data sheet [V]. */
  readonly minInputV?: number
  readonly maxInputV?: number
  /** Peak rating for the duration of a load dump [V]. */
  readonly peakInputV?: number
  /** Rating for reversed polarity [V]. */
  readonly reversedInputV?: number
  /** Clamping voltage of a suppressor at the input in a load dump [V], and its rated energy [J]. */
  readonly clampV?: number
  readonly clampEnergyJ?: number
}

export interface SupplyRequest {
  readonly system: SupplySystem
  readonly code?: SupplyCode
  /** Normal supply voltage of the load. */
  readonly supplyV?: Figure
  readonly loads: readonly SupplyLoad[]
  readonly converter?: Converter
  /** Current capacity of the wire, from the wire calculation. */
  readonly wireRatingA?: Figure
}

export interface SupplyPoint {
  readonly at: 'lowest' | 'normal' | 'highest'
  readonly supplyV: Figure
  readonly currentA: Figure
  readonly converterHeatW: Figure
}

export type SupplyCheckKind =
  | 'lowest-supply'
  | 'highest-supply'
  | 'load-dump'
  | 'suppressed-load-dump'
  | 'jump-start'
  | 'reversed-battery'
  | 'starting-dip'
  | 'starting-cranking'

export interface SupplyCheck {
  readonly kind: SupplyCheckKind
  /** Level of the starting profile. */
  readonly level?: string
  readonly requiredV: number
  /** Rating or need of the converter, if known. */
  readonly ratedV?: number
  readonly result: 'passes' | 'fails' | 'not-known'
  readonly text: string
}

export interface Supply {
  readonly outputCurrentA: Figure
  /** At the lowest supply at which the converter works, the normal one and the highest one. */
  readonly points: readonly SupplyPoint[]
  /** The largest of the input currents. */
  readonly largestCurrentA: Figure
  readonly minFuseA?: number
  readonly maxFuseA?: number
  readonly checks: readonly SupplyCheck[]
  /** Load of the suppressor in the mildest and the worst load dump. */
  readonly clampDuty?: { readonly mildest: ClampDuty; readonly worst: ClampDuty }
  readonly budget: readonly BudgetLine[]
  readonly assumptions: readonly Assumption[]
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/**
 * Input current of a step-down converter.
 *
 *     Iᵢ = V_o·I_o / (η·Vᵢ)
 *
 * @param outputV - V_o. [V]
 * @param outputA - I_o. [A]
 * @param efficiency - η, as a fraction
 * @param inputV - Vᵢ, above V_o. [V]
 * @returns Iᵢ. [A]
 * @throws {DomainError} `not-finite`
 * @see derived: power balance of the converter
 * @example stepDownInputA(exact(5), exact(0.5), exact(0.85), exact(12)).value // 0.245098 ± 1e-6
 */
export function stepDownInputA(outputV: Figure, outputA: Figure, efficiency: Figure, inputV: Figure): Figure {
  return quotient(product(outputV, outputA), product(efficiency, inputV))
}

interface Feed {
  readonly currentA: (inputV: Figure) => Figure
  readonly heatW: (inputV: Figure) => Figure
  /** Minimum input at which the output is in regulation. */
  readonly needsV: number
}

function feedOf(
  converter: Converter | undefined,
  outputA: Figure,
  taken: Assumption[],
  sources: SourceId[],
): Feed {
  if (converter === undefined) return { currentA: () => exact(0), heatW: () => exact(0), needsV: 0 }
  sources.push('converter-balance')
  const { outputV } = converter
  const ownA = converter.ownCurrentA ?? exact(0)
  const defaultDropoutV = converter.kind === 'linear' ? 2 : 1
  const dropoutV = assumed(
    converter.dropoutV,
    exact(defaultDropoutV),
    { field: '/converter/dropout', value: `${digits(defaultDropoutV)} V`, standing: 'common-practice' },
    taken,
  )
  const needsV = Math.max(outputV.value + dropoutV.value, converter.minInputV ?? 0)
  if (converter.kind === 'linear') {
    return {
      needsV,
      currentA: () => sum(outputA, ownA),
      heatW: (inputV) => sum(product(sum(inputV, scaled(outputV, -1)), outputA), product(inputV, ownA)),
    }
  }
  const efficiency = assumed(
    converter.efficiency,
    uncertain(0.85, 'converter: efficiency', 0.05 / Math.sqrt(3)),
    { field: '/converter/efficiencyPercent', value: '85 %, from 80 to 90', standing: 'common-practice' },
    taken,
  )
  const outputW = product(outputV, outputA)
  return {
    needsV,
    currentA: (inputV) => sum(stepDownInputA(outputV, outputA, efficiency, inputV), ownA),
    heatW: (inputV) => sum(quotient(outputW, efficiency), scaled(outputW, -1), product(inputV, ownA)),
  }
}

/**
 * Supply of the electronics from the car: input current and heat over the voltage range, fuse, and whether the ratings of the
 * converter cover the voltages of a car.
 *
 *     I = Σ I(battery) + V_o·Σ I(converter)/(η·Vᵢ)   step-down
 *     I = Σ I(battery) + Σ I(converter)              linear;  heat (Vᵢ − V_o)·I
 *
 * Vᵢ is the supply, V_o the output of the converter, η its efficiency.
 *
 * @param request - System, loads [A], converter with its ratings [V]
 * @returns Currents, heat, fuse, checks against the standard's levels
 * @throws {DomainError} `out-of-range` for a code of another system or a supply below what the converter needs
 * @see ISO 16750-2:2010 (12 V supply and load dump published; starting, jump start, 24 V from memory)
 * @example supply({ system: '12-volt', loads: [{ name: 'display', currentA: exact(0.5), feed: 'converter' }], converter: { kind: 'step-down', outputV: exact(5), efficiency: exact(0.85) } }).points[1].currentA.value // 0.245098 ± 1e-6
 */
export function supply(request: SupplyRequest): Supply {
  const levels = SUPPLY_LEVELS[request.system]
  const taken: Assumption[] = []
  const sources: SourceId[] = ['gum', 'fuse-loading', 'iso-8820-3', levels.source]
  const notes: Note[] = [
    {
      code: 'disconnect-battery',
      level: 'caution',
      text: 'Disconnect the battery before you work on the wiring, and never run the engine without it: that causes a load dump.',
    },
    {
      code: 'check-electrical-code',
      level: 'caution',
      text: 'Check wire and fuse sizes against the local electrical code and the workshop manual; those take precedence.',
    },
  ]
  const code = assumed(
    request.code,
    levels.defaultCode,
    {
      field: '/code',
      value: `${levels.defaultCode}, down to ${levels.lowestV[levels.defaultCode]} V`,
      standing: 'common-practice',
    },
    taken,
  )
  const lowestV = levels.lowestV[code]
  if (lowestV === undefined) {
    const known = Object.keys(levels.lowestV).join(', ')
    throw new DomainError(
      'out-of-range',
      `code: expected one of ${known} for ${request.system}, got ${code}`,
      {
        pointer: '/code',
        value: code,
      },
    )
  }
  const normalV = assumed(
    request.supplyV,
    exact(levels.nominalV),
    { field: '/supply', value: `${digits(levels.nominalV)} V, nominal`, standing: 'common-practice' },
    taken,
  )
  const { converter } = request
  const fedBy = (feed: SupplyLoad['feed']) =>
    sum(...request.loads.filter((load) => load.feed === feed).map(({ currentA }) => currentA))
  const outputA = fedBy('converter')
  if (converter === undefined && request.loads.some(({ feed }) => feed === 'converter')) {
    throw new DomainError(
      'needs-another-field',
      'converter: a load is fed from the converter, but none is given; give converter, or feed the load from the battery',
      { pointer: '/converter' },
    )
  }
  const directA = fedBy('battery')
  const feed = feedOf(converter, outputA, taken, sources)
  if (normalV.value < feed.needsV) {
    throw new DomainError(
      'out-of-range',
      `supply: expected at least the ${digits(feed.needsV)} V that the converter needs, got ${digits(normalV.value)} V`,
      { pointer: '/supply', min: feed.needsV, value: normalV.value },
    )
  }
  const point = (at: SupplyPoint['at'], supplyV: Figure): SupplyPoint => ({
    at,
    supplyV,
    currentA: sum(directA, feed.currentA(supplyV)),
    converterHeatW: feed.heatW(supplyV),
  })
  const points = [
    // Below what the converter needs, its output is not regulated.
    point('lowest', exact(Math.max(lowestV, feed.needsV))),
    point('normal', normalV),
    point('highest', exact(Math.max(levels.highestV, feed.needsV))),
  ]
  const largestCurrentA = points.reduce((a, b) => (b.currentA.value > a.currentA.value ? b : a)).currentA

  const result: Mutable<Supply> = {
    outputCurrentA: outputA,
    points,
    largestCurrentA,
    checks: converter === undefined ? [] : checksOf(converter, feed.needsV, lowestV, levels),
    budget: budget(largestCurrentA),
    assumptions: taken,
    sources,
    notes,
  }
  if (converter !== undefined && levels.source !== 'six-volt-practice')
    sources.push('iso-16750-2-from-memory')
  const minFuseA = smallestFuseA(largestCurrentA.value, FUSE_LOADING)
  if (minFuseA !== undefined) result.minFuseA = minFuseA
  if (request.wireRatingA !== undefined) {
    const maxFuseA = largestFuseA(Math.max(0, request.wireRatingA.value - plusMinus(request.wireRatingA)))
    if (maxFuseA !== undefined) result.maxFuseA = maxFuseA
    if (minFuseA === undefined || maxFuseA === undefined || minFuseA > maxFuseA) {
      notes.push({
        code: 'no-fuse-fits',
        level: 'caution',
        text: 'No blade fuse both carries this load continuously and protects this wire: use a thicker wire.',
      })
    }
  }
  if (converter?.clampV !== undefined && levels.loadDump !== undefined) {
    result.clampDuty = {
      mildest: loadDumpClamp(levels.loadDump.mildest, converter.clampV),
      worst: loadDumpClamp(levels.loadDump.worst, converter.clampV),
    }
  }
  const highestV = Math.max(levels.highestV, levels.jumpStartV ?? 0)
  if (converter?.clampV !== undefined && converter.clampV <= highestV) {
    notes.push({
      code: 'clamp-too-low',
      level: 'caution',
      text: `The suppressor holds ${digits(converter.clampV)} V, but the supply may stay at ${digits(highestV)} V for a minute or more: it conducts all that time and burns out. Use one with a stand-off voltage above that.`,
    })
  }
  if (request.system === '6-volt') {
    notes.push({
      code: 'six-volt-not-standardized',
      level: 'info',
      text: 'No standard gives levels for 6 V cars. The range is half of the 12 V one; a worn cut-out or regulator can exceed it, so measure the voltage at high engine speed.',
    })
  }
  if (result.checks.some(({ result }) => result === 'fails')) {
    notes.push({
      code: 'ratings-too-low',
      level: 'caution',
      text: 'At least one rating does not cover the levels that the standard specifies for a car. Use a converter for vehicle supplies, or put a suppressor, a series diode and a hold-up capacitor in front of it.',
    })
  }
  return result
}

function checksOf(
  converter: Converter,
  needsV: number,
  lowestV: number,
  levels: SupplyLevels,
): SupplyCheck[] {
  const checks: SupplyCheck[] = []
  const falls = (kind: SupplyCheckKind, requiredV: number, what: string, level?: string) => {
    const holds = requiredV >= needsV
    const check: Mutable<SupplyCheck> = {
      kind,
      requiredV,
      ratedV: needsV,
      result: holds ? 'passes' : 'fails',
      text: holds
        ? `${what}: ${digits(requiredV)} V suffice for the ${digits(needsV)} V that the converter needs.`
        : `${what}: the converter needs ${digits(needsV)} V and gets ${digits(requiredV)} V; its output drops and its loads restart.`,
    }
    if (level !== undefined) check.level = level
    checks.push(check)
  }
  const rises = (kind: SupplyCheckKind, requiredV: number, ratedV: number | undefined, what: string) => {
    if (ratedV === undefined) {
      checks.push({
        kind,
        requiredV,
        result: 'not-known',
        text: `${what}: ${digits(requiredV)} V; the rating is not given, look it up in the data sheet.`,
      })
      return
    }
    const holds = ratedV >= requiredV
    checks.push({
      kind,
      requiredV,
      ratedV,
      result: holds ? 'passes' : 'fails',
      text: `${what}: ${digits(requiredV)} V against a rating of ${digits(ratedV)} V.`,
    })
  }
  const peakInputV = converter.peakInputV ?? converter.maxInputV
  falls('lowest-supply', lowestV, 'Lowest supply')
  rises('highest-supply', levels.highestV, converter.maxInputV, 'Highest supply')
  if (levels.loadDump !== undefined) checks.push(loadDumpCheck(converter, peakInputV, levels.loadDump.worst))
  if (levels.suppressedDumpV !== undefined) {
    const reaches = Math.min(levels.suppressedDumpV, converter.clampV ?? Number.POSITIVE_INFINITY)
    rises('suppressed-load-dump', reaches, peakInputV, 'Load dump of a generator with its own suppression')
  }
  if (levels.jumpStartV !== undefined) {
    rises('jump-start', levels.jumpStartV, converter.maxInputV, 'Jump start, a minute')
  }
  rises('reversed-battery', levels.reversedV, converter.reversedInputV, 'Reversed battery, a minute')
  for (const { level, dipV, crankingV, crankingS } of levels.starting) {
    falls('starting-dip', dipV, `Starting profile ${level}, dip`, level)
    falls('starting-cranking', crankingV, `Starting profile ${level}, ${crankingS} s of cranking`, level)
  }
  return checks
}

function loadDumpCheck(
  converter: Converter,
  peakInputV: number | undefined,
  worst: NonNullable<SupplyLevels['loadDump']>['worst'],
): SupplyCheck {
  const kind = 'load-dump'
  const requiredV = worst.peakV
  if (converter.clampV === undefined) {
    return peakInputV === undefined
      ? {
          kind,
          requiredV,
          result: 'not-known',
          text: `Load dump: ${digits(requiredV)} V; the rating is not given.`,
        }
      : {
          kind,
          requiredV,
          ratedV: peakInputV,
          result: peakInputV >= requiredV ? 'passes' : 'fails',
          text: `Load dump without suppression: up to ${digits(requiredV)} V against a rating of ${digits(peakInputV)} V.`,
        }
  }
  const { energyJ, peakA } = loadDumpClamp(worst, converter.clampV)
  const duty = `the suppressor takes up to ${peakA.toFixed(0)} A and ${digits(energyJ, 3)} J`
  if (peakInputV === undefined || converter.clampEnergyJ === undefined) {
    return {
      kind,
      requiredV,
      result: 'not-known',
      text: `Load dump held at ${digits(converter.clampV)} V: ${duty}; give the converter's peak rating and the suppressor's energy.`,
    }
  }
  const holds = peakInputV >= converter.clampV && converter.clampEnergyJ >= energyJ
  return {
    kind,
    requiredV,
    ratedV: peakInputV,
    result: holds ? 'passes' : 'fails',
    text: `Load dump held at ${digits(converter.clampV)} V against a rating of ${digits(peakInputV)} V: ${duty}, of ${digits(converter.clampEnergyJ)} J allowed.`,
  }
}
