import type { SourceId } from '../measure/sources.js'
import type { LoadDumpPulse } from './load-dump.js'

/** Codes of the supply voltage range: A to D for 12 V (6 V likewise), E to H for 24 V. */
export const SUPPLY_CODES = ['A', 'B', 'C', 'D', 'E', 'F', 'G', 'H'] as const
export type SupplyCode = (typeof SUPPLY_CODES)[number]

export type SupplySystem = '6-volt' | '12-volt' | '24-volt'

/** Voltage drop while the engine is cranked. */
export interface StartingProfile {
  readonly level: 'I' | 'II' | 'III' | 'IV'
  /** Minimum, for some milliseconds, as the starter begins to turn. */
  readonly dipV: number
  /** Afterwards, while it cranks. */
  readonly crankingV: number
  readonly crankingS: number
}

export interface SupplyLevels {
  readonly nominalV: number
  readonly lowestV: Readonly<Partial<Record<SupplyCode, number>>>
  /** Default code. */
  readonly defaultCode: SupplyCode
  readonly highestV: number
  readonly loadDump?: { readonly mildest: LoadDumpPulse; readonly worst: LoadDumpPulse }
  readonly suppressedDumpV?: number
  readonly jumpStartV?: number
  readonly reversedV: number
  readonly starting: readonly StartingProfile[]
  readonly source: SourceId
}

/**
 * Levels by system. 12 V: ISO 16750-2:2010. No standard covers 6 V: the range is half of the 12 V one, a car with a
 * dynamo has no load dump as in the standard, and a jump start comes from a 12 V car.
 *
 * | level | 12 V | 24 V | standing |
 * |---|---|---|---|
 * | supply, by code | A 6, B 8, C 9, D 10.5 to 16 V | E 10, F 16, G 22, H 18 to 32 V | 12 V published, 24 V from memory |
 * | load dump without suppression | 79..101 V, 0.5..4 ohm, 40..400 ms | 151..202 V, 1..8 ohm, 100..350 ms | the same |
 * | load dump, suppressed | 35 V | 65 V | from memory |
 * | jump start; reversed battery | 24 V; 14 V | none; 28 V | from memory |
 * | starting: dip/cranking, I II III IV | 8/9.5, 4.5/6.5, 3/5, 6/6.5 V | 10/20, 8/15, 6/10 V | from memory |
 */
export const SUPPLY_LEVELS: Readonly<Record<SupplySystem, SupplyLevels>> = {
  '6-volt': {
    nominalV: 6,
    lowestV: { A: 3, B: 4, C: 4.5, D: 5.25 },
    defaultCode: 'C',
    highestV: 8,
    jumpStartV: 14,
    reversedV: 7,
    starting: [],
    source: 'six-volt-practice',
  },
  '12-volt': {
    nominalV: 12,
    lowestV: { A: 6, B: 8, C: 9, D: 10.5 },
    defaultCode: 'C',
    highestV: 16,
    loadDump: {
      mildest: { peakV: 79, baseV: 14, sourceOhm: 4, durationS: 0.04 },
      worst: { peakV: 101, baseV: 14, sourceOhm: 0.5, durationS: 0.4 },
    },
    suppressedDumpV: 35,
    jumpStartV: 24,
    reversedV: 14,
    starting: [
      { level: 'I', dipV: 8, crankingV: 9.5, crankingS: 1 },
      { level: 'II', dipV: 4.5, crankingV: 6.5, crankingS: 10 },
      { level: 'III', dipV: 3, crankingV: 5, crankingS: 1 },
      { level: 'IV', dipV: 6, crankingV: 6.5, crankingS: 10 },
    ],
    source: 'iso-16750-2',
  },
  '24-volt': {
    nominalV: 24,
    lowestV: { E: 10, F: 16, G: 22, H: 18 },
    defaultCode: 'F',
    highestV: 32,
    loadDump: {
      mildest: { peakV: 151, baseV: 28, sourceOhm: 8, durationS: 0.1 },
      worst: { peakV: 202, baseV: 28, sourceOhm: 1, durationS: 0.35 },
    },
    suppressedDumpV: 65,
    reversedV: 28,
    starting: [
      { level: 'I', dipV: 10, crankingV: 20, crankingS: 1 },
      { level: 'II', dipV: 8, crankingV: 15, crankingS: 10 },
      { level: 'III', dipV: 6, crankingV: 10, crankingS: 1 },
    ],
    source: 'iso-16750-2-from-memory',
  },
}
