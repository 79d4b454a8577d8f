import { DomainError } from '../errors.js'
import { type Assumption, assumed } from '../measure/assumptions.js'
import { type BudgetLine, budget } from '../measure/budget.js'
import { digits } from '../measure/digits.js'
import { exact, type Figure } from '../measure/figure.js'
import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import { sum } from '../measure/propagation.js'
import type { SourceId } from '../measure/sources.js'
import { plusMinus } from '../measure/uncertainty.js'
import type { Mutable } from '../mutable.js'
import { type Converter, checkEfficiency, feedOf } from './converter.js'
import { FUSE_LOADING, largestFuseA, smallestFuseA } from './fuses.js'
import { type ClampDuty, loadDumpClamp } from './load-dump.js'
import { type SupplyCheck, supplyChecks } from './supply-checks.js'
import { SUPPLY_LEVELS, type SupplyCode, type SupplyLevels, type SupplySystem } from './supply-levels.js'

export interface SupplyLoad {
  readonly name: string
  readonly currentA: Figure
  /** Directly from the battery, or from the converter. */
  readonly feed: 'battery' | 'converter'
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
 * @throws {DomainError} `out-of-range` for a code of another system or a supply below what the converter needs, `needs-another-field` for a
 *   load on a converter that is not given, `fields-exclude-each-other` for an efficiency of a linear regulator
 * @see ISO 16750-2:2010 (12 V supply and load dump published; starting, jump start, 24 V from memory)
 * @example supply({ system: '12-volt', loads: [{ name: 'display', currentA: exact(0.5), feed: 'converter' }], converter: { kind: 'step-down', outputV: exact(5), efficiencyPercent: 85 } }).points[1].currentA.value // 0.245098 ± 1e-6
 */
export function supply(request: SupplyRequest): Supply {
  const { converter } = request
  if (converter !== undefined) checkEfficiency(converter)
  const levels = SUPPLY_LEVELS[request.system]
  const taken: Assumption[] = []
  const sources: SourceId[] = ['gum', 'fuse-loading', 'iso-8820-3', levels.source]
  const lowestV = lowestOf(request, levels, taken)
  const normalV = assumed(
    request.supplyV,
    exact(levels.nominalV),
    { field: '/supply', value: `${digits(levels.nominalV)} V, nominal`, standing: 'common-practice' },
    taken,
  )
  const outputCurrentA = fedBy(request, 'converter')
  if (converter === undefined && request.loads.some(({ feed }) => feed === 'converter')) {
    throw new DomainError(
      'needs-another-field',
      'converter: a load is fed from the converter, but none is given; give converter, or feed the load from the battery',
      { pointer: '/converter' },
    )
  }
  const directA = fedBy(request, 'battery')
  const feed = feedOf(converter, outputCurrentA, taken, sources)
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
  if (converter !== undefined && levels.source !== 'six-volt-practice')
    sources.push('iso-16750-2-from-memory')

  const result: Mutable<Supply> = {
    outputCurrentA,
    points,
    largestCurrentA,
    checks: converter === undefined ? [] : supplyChecks(converter, feed.needsV, lowestV, levels),
    budget: budget(largestCurrentA),
    assumptions: taken,
    sources,
    notes: [],
    ...fusesOf(request, largestCurrentA),
  }
  if (converter?.clampV !== undefined && levels.loadDump !== undefined) {
    result.clampDuty = {
      mildest: loadDumpClamp(levels.loadDump.mildest, converter.clampV),
      worst: loadDumpClamp(levels.loadDump.worst, converter.clampV),
    }
  }
  result.notes = supplyNotes(request, result, levels)
  return result
}

const fedBy = ({ loads }: SupplyRequest, feed: SupplyLoad['feed']) =>
  sum(...loads.filter((load) => load.feed === feed).map(({ currentA }) => currentA))

/** Lowest supply of the code. [V] */
function lowestOf({ system, code: given }: SupplyRequest, levels: SupplyLevels, taken: Assumption[]): number {
  const code = assumed(
    given,
    levels.defaultCode,
    {
      field: '/code',
      value: `${levels.defaultCode}, down to ${levels.lowestV[levels.defaultCode]} V`,
      standing: 'common-practice',
    },
    taken,
  )
  const lowestV = levels.lowestV[code]
  if (lowestV !== undefined) return lowestV
  const known = Object.keys(levels.lowestV).join(', ')
  throw new DomainError('out-of-range', `code: expected one of ${known} for ${system}, got ${code}`, {
    pointer: '/code',
    value: code,
  })
}

/** Smallest fuse that carries the current, and largest that protects the wire. */
function fusesOf({ wireRatingA }: SupplyRequest, currentA: Figure): Pick<Supply, 'minFuseA' | 'maxFuseA'> {
  const fuses: Mutable<Pick<Supply, 'minFuseA' | 'maxFuseA'>> = {}
  const minFuseA = smallestFuseA(currentA.value, FUSE_LOADING)
  if (minFuseA !== undefined) fuses.minFuseA = minFuseA
  const maxFuseA =
    wireRatingA === undefined
      ? undefined
      : largestFuseA(Math.max(0, wireRatingA.value - plusMinus(wireRatingA)))
  if (maxFuseA !== undefined) fuses.maxFuseA = maxFuseA
  return fuses
}

function supplyNotes(
  { system, converter, wireRatingA }: SupplyRequest,
  { minFuseA, maxFuseA, checks }: Supply,
  levels: SupplyLevels,
): Note[] {
  const notes: Note[] = [
    cautionNote(
      'disconnect-battery',
      'Disconnect the battery before you work on the wiring, and never run the engine without it: that causes a load dump.',
    ),
    cautionNote(
      'check-electrical-code',
      'Check wire and fuse sizes against the local electrical code and the workshop manual; those take precedence.',
    ),
  ]
  const noneFits = minFuseA === undefined || maxFuseA === undefined || minFuseA > maxFuseA
  if (wireRatingA !== undefined && noneFits) {
    notes.push(
      cautionNote(
        'no-fuse-fits',
        'No blade fuse both carries this load continuously and protects this wire: use a thicker wire.',
      ),
    )
  }
  const highestV = Math.max(levels.highestV, levels.jumpStartV ?? 0)
  if (converter?.clampV !== undefined && converter.clampV <= highestV) {
    notes.push(
      cautionNote(
        'clamp-too-low',
        `The suppressor holds ${digits(converter.clampV)} V, but the supply may stay at ${digits(highestV)} V for a minute or more: it conducts all that time and burns out. Use one with a stand-off voltage above that.`,
      ),
    )
  }
  if (system === '6-volt') {
    notes.push(
      infoNote(
        'six-volt-not-standardized',
        'No standard gives levels for 6 V cars. The range is half of the 12 V one; a worn cut-out or regulator can exceed it, so measure the voltage at high engine speed.',
      ),
    )
  }
  if (checks.some(({ result }) => result === 'fails')) {
    notes.push(
      cautionNote(
        'ratings-too-low',
        'At least one rating does not cover the levels that the standard specifies for a car. Use a converter for vehicle supplies, or put a suppressor, a series diode and a hold-up capacitor in front of it.',
      ),
    )
  }
  return notes
}
