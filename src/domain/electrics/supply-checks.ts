import { digits } from '../measure/digits.js'
import type { Mutable } from '../mutable.js'
import type { Converter } from './converter.js'
import { loadDumpClamp } from './load-dump.js'
import type { SupplyLevels } from './supply-levels.js'

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

/**
 * Ratings of a converter against the levels of the standard.
 *
 *     passes: rating ≥ level that is reached;  passes: level that is left ≥ need of the converter
 *
 * A rating that is not given is not known, never taken to hold. A suppressor ahead of the converter limits what reaches it.
 *
 * @param converter - Converter with its ratings [V]
 * @param needsV - Minimum input at which its output is in regulation. [V]
 * @param lowestV - Lowest supply of the code. [V]
 * @param levels - Levels of the system
 * @returns One row a level
 * @throws {DomainError} `limits-crossed` for a clamp at or below the voltage of the running generator
 * @see ISO 16750-2:2010 (12 V supply and load dump published; starting, jump start, 24 V from memory)
 * @example supplyChecks({ kind: 'linear', outputV: exact(5), maxInputV: 40 }, 7, 9, SUPPLY_LEVELS['12-volt'])[1].result // "passes"
 */
export function supplyChecks(
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
  const { energyJ, peakCurrentA } = loadDumpClamp(worst, converter.clampV)
  const duty = `the suppressor takes up to ${peakCurrentA.toFixed(0)} A and ${digits(energyJ, 3)} J`
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
