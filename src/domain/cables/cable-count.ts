import { type GivenHead, type GivenStage, givenHead, givenStage } from '../drive-paths/given-path.js'
import { checkHeadFits, pathOutput, type Stage } from '../drive-paths/path.js'
import { DomainError, withPointer } from '../errors.js'
import { type BudgetLine, budget } from '../measure/budget.js'
import { exact, type Figure, type Reading, statesUncertainty } from '../measure/figure.js'
import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import { quotient } from '../measure/propagation.js'
import type { SourceId } from '../measure/sources.js'
import { plusMinus } from '../measure/uncertainty.js'
import { MILE_M } from '../measure/units.js'
import type { Mutable } from '../mutable.js'
import { type Tire, type TireGeometry, tireGeometryAt } from '../tires/geometry.js'
import type { SizeTable } from '../tires/size-table.js'
import { percentText } from '../vehicles/words.js'
import { type Agreement, agreement, countCheck, suspects } from './count-check.js'

export interface CountCheckRequest {
  readonly cableTurns: number
  /** Further counts over the same distance. */
  readonly repeats?: readonly number[]
  /** Left out: 1/100 mile. */
  readonly distanceM?: Reading
  /** Smallest part of a turn that was read. Left out: a quarter. [turns] */
  readonly resolution?: number
  /** Left out: the count is compared with no path. */
  readonly tire?: Tire
  readonly stages?: readonly GivenStage[]
  readonly head?: GivenHead
}

/** The ratio of a stage if it alone explains the count. */
export interface SuspectRow {
  readonly pointer: string
  readonly name: string
  readonly ratio: number
  readonly ratioImplied: Figure
  /** Teeth of the driven gear, where a whole number lies within the uncertainty. */
  readonly drivenImplied?: number
}

/** A count against the tire and the stages as stated. */
export interface Comparison {
  readonly expectedPerM: Figure
  readonly foundPerExpected: Figure
  readonly agreement: Agreement
  /** Turns of the cable per wheel turn, as counted. */
  readonly ratioFound: Figure
  readonly suspects?: readonly SuspectRow[]
}

export interface CountCheck extends Partial<Comparison> {
  readonly counted: { readonly turns: number; readonly plusMinus: number; readonly counts: number }
  readonly turnsPerM: Figure
  readonly outliers: readonly number[]
  readonly budget: readonly BudgetLine[]
  /** Distance by the odometer over true distance; absent without a head. */
  readonly odometerPerTrue?: Figure
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/** Resolution of the reading when the request does not give it [turns]. */
const DEFAULT_RESOLUTION = 0.25

/** 1/100 mile. */
const SHOP_COURSE_M = MILE_M / 100

const DISTANCE_EXACT: Note = infoNote(
  'distance-taken-as-exact',
  'The distance counts as exact: measure it with a tape and give plusMinus.',
)

/**
 * Turns of a cable over a distance rolled, and whether they are those of the tire and the stages as stated.
 *
 *     k = n̄/d;  f = k/expected, expected = Π rᵢ/C;  odometer per true = k/constant of the head
 *
 * n̄ is the mean of the counts, d the distance, rᵢ the ratio of stage i, C the rolling circumference.
 *
 * @param request - Counts, distance [m] and resolution; tire, stages and head where they are known
 * @param table - Finds tire sizes that no formula covers
 * @returns Turns per distance [1/m], agreement with the path and, where they differ, what each stage would need
 * @throws {DomainError} `tire-needed` for stages without a tire, `path-order` for stages that give pulses, `head-does-not-fit-path`; those of
 *   `countCheck`, `givenStage` and `tireGeometryAt`
 * @see US War Department TM 9-1829A; US Army TM 5-3820-256-24-4; 1/100 mile as a shop course: common practice
 * @example checkCableCount({ cableTurns: 10 }, () => undefined).turnsPerM.value * 1609.344 // 1000 ± 1e-9
 * @example checkCableCount({ cableTurns: 10, stages: [{ kind: 'final-drive', ring: 37, pinion: 10 }] }, () => undefined) // throws tire-needed
 */
export function checkCableCount(request: CountCheckRequest, table: SizeTable): CountCheck {
  const { cableTurns, repeats = [], resolution, distanceM } = request
  const counts = [cableTurns, ...repeats]
  const counted = withPointer('/cableTurns', () =>
    countCheck(counts, resolution ?? DEFAULT_RESOLUTION, distanceM ?? exact(SHOP_COURSE_M)),
  )
  const sources: SourceId[] = ['definitions', 'gum', 'caller-reading', 'tm-9-1829a']
  if (distanceM === undefined || resolution === undefined) sources.push('shop-course')
  const notes: Note[] = [...counted.notes]
  if (distanceM === undefined || !statesUncertainty(distanceM)) notes.push(DISTANCE_EXACT)
  const result: Mutable<CountCheck> = {
    counted: { turns: counted.turns.value, plusMinus: plusMinus(counted.turns), counts: counts.length },
    turnsPerM: counted.turnsPerM,
    outliers: counted.outliers,
    budget: budget(counted.turnsPerM),
    sources,
    notes,
  }
  if (request.tire !== undefined) {
    const geometry = tireGeometryAt('/tire', request.tire, table)
    const comparison = compare(counted.turnsPerM, geometry, (request.stages ?? []).map(givenStage))
    Object.assign(result, comparison)
    sources.push(...geometry.sources, 'eu-165-2014', 'tm-5-3820-256-24-4')
    notes.push(...geometry.notes)
    if (comparison.agreement === 'differs') notes.push(countDiffers(comparison.foundPerExpected))
  } else if (request.stages !== undefined) {
    throw new DomainError('tire-needed', 'stages: the comparison needs the tire; give tire as well', {
      pointer: '/tire',
    })
  }
  if (request.head !== undefined) {
    const head = givenHead(request.head)
    checkHeadFits('turns', head)
    result.odometerPerTrue = quotient(counted.turnsPerM, head.constantPerM)
  }
  return result
}

function compare(foundPerM: Figure, geometry: TireGeometry, stages: readonly Stage[]): Comparison {
  const path = pathOutput(geometry.turnsPerM, stages)
  if (path.signal === 'pulses') {
    throw new DomainError(
      'path-order',
      'stages: a cable carries turns; leave out the pulse-ring and what follows it',
      { pointer: '/stages' },
    )
  }
  const factor = quotient(foundPerM, path.outputPerM)
  const comparison: Mutable<Comparison> = {
    expectedPerM: path.outputPerM,
    foundPerExpected: factor,
    agreement: agreement(factor),
    ratioFound: quotient(foundPerM, geometry.turnsPerM),
  }
  // The uncertainty of the tire counts here too: the tire may be the cause.
  if (comparison.agreement === 'differs') comparison.suspects = suspectRows(stages, factor)
  return comparison
}

function suspectRows(stages: readonly Stage[], factor: Figure): SuspectRow[] {
  return suspects(stages, factor).map(({ stage, ratioImplied, drivenImplied }) => {
    const { name, ratio } = stages[stage]!
    const row: Mutable<SuspectRow> = {
      pointer: `/stages/${stage}`,
      name,
      ratio: ratio.value,
      ratioImplied,
    }
    if (drivenImplied !== undefined) row.drivenImplied = drivenImplied
    return row
  })
}

const countDiffers = ({ value }: Figure): Note =>
  cautionNote(
    'count-and-path-differ',
    `The cable turns ${percentText(Math.abs(value - 1))} ${value > 1 ? 'more' : 'less'} than tire and stages give: one of the ratios is not the one stated, the rolling circumference differs, or the drive slips. suspects gives the ratio that each stage would need.`,
  )
