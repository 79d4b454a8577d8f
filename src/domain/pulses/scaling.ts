import { nearestRatios } from '../measure/approximation.js'
import type { Figure } from '../measure/figure.js'
import { infoNote, type Note } from '../measure/notes.js'
import { quotient } from '../measure/propagation.js'
import { type ExactRatio, ratioOf, ratioOfDecimal } from '../measure/ratio.js'
import type { SourceId } from '../measure/sources.js'
import type { Mutable } from '../mutable.js'

/** A phase accumulator: adds `word` at each input pulse; each overflow is an output pulse. */
export interface AccumulatorWord {
  readonly word: number
  readonly relativeError: number
}

/**
 * Word of a phase accumulator for a ratio of output to input pulses.
 *
 *     word = round(r·2ⁿ),  error = word/(r·2ⁿ) − 1
 *
 * @param ratio - r, below 1: an accumulator outputs fewer pulses than it receives
 * @param bits - n, width of the accumulator. [4 .. 52]
 * @returns The word and its error, or undefined for r >= 1 or an r too small for the width
 * @see principle of direct digital synthesis: f_out = f_in · word/2ⁿ
 * @example accumulatorWord(ratioOf(1, 3), 16).word // 21845 ± 0
 */
export function accumulatorWord(ratio: ExactRatio, bits: number): AccumulatorWord | undefined {
  const scaled = ratio.valueOf() * 2 ** bits
  const word = Math.round(scaled)
  if (ratio.valueOf() >= 1 || word < 1 || word >= 2 ** bits) return undefined
  return { word, relativeError: (word - scaled) / scaled }
}

/** Meters in a mile over meters in a kilometer: exact. */
const MILE_PER_KM = ratioOf(1_609_344, 1_000_000)

/**
 * Pulses per kilometer as they were written, free of binary rounding.
 *
 *     n/km as given, or n/(1.609344) for n/mile
 *
 * @param given - Pulses per distance in the unit of the caller
 * @returns The exact number a kilometer
 * @see NIST SP 811, B.8 (a mile is 1609.344 m exactly)
 * @example exactPerKm({ perMile: 8000 }).toFraction() // "62500000/12573"
 */
export function exactPerKm(given: { readonly perKm: number } | { readonly perMile: number }): ExactRatio {
  return 'perKm' in given ? ratioOfDecimal(given.perKm) : ratioOfDecimal(given.perMile).div(MILE_PER_KM)
}

export interface PulseScalingRequest {
  readonly fromPerM: Figure
  readonly toPerM: Figure
  /** Largest whole number that the scaler takes. */
  readonly maxTerm: number
  /** Width of a phase accumulator. */
  readonly bits?: number
}

export interface PulseScaling {
  /** Pulses out per pulse in. */
  readonly ratio: Figure
  readonly exactRatio: string
  /** Nearest first. */
  readonly candidates: ReadonlyArray<{
    readonly multiply: number
    readonly divide: number
    readonly errorPercent: number
  }>
  readonly accumulator?: { readonly bits: number; readonly word: number; readonly errorPercent: number }
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/** Maximum number of scaler settings shown. */
const MAX_SETTINGS = 12

/**
 * Settings that turn one pulse rate into another: whole numbers, or the word of a phase accumulator.
 *
 *     r = K_out/K_in ≈ multiply/divide, by `nearestRatios`;  word by `accumulatorWord`
 *
 * K is pulses per distance.
 *
 * @param request - Pulses in and out, largest term, width of an accumulator
 * @param exactRatio - r of the figures as they were written
 * @returns r, the nearest settings, and the word if there is one
 * @see Khinchin, Continued Fractions; principle of direct digital synthesis
 * @example pulseScaling({ fromPerM: exact(3), toPerM: exact(1), maxTerm: 9 }, ratioOf(1, 3)).candidates[0] // {"multiply":1,"divide":3,"errorPercent":0}
 */
export function pulseScaling(request: PulseScalingRequest, exactRatio: ExactRatio): PulseScaling {
  const { fromPerM, toPerM, maxTerm, bits } = request
  const notes: Note[] = []
  const result: Mutable<PulseScaling> = {
    ratio: quotient(toPerM, fromPerM),
    exactRatio: exactRatio.toFraction(),
    candidates: nearestRatios(exactRatio, maxTerm)
      .slice(0, MAX_SETTINGS)
      .map(({ numerator, denominator, relativeError }) => ({
        multiply: numerator,
        divide: denominator,
        errorPercent: relativeError * 100,
      })),
    sources: ['definitions', 'gum', 'continued-fractions'],
    notes,
  }
  if (bits === undefined) return result
  const accumulator = accumulatorWord(exactRatio, bits)
  if (accumulator === undefined) notes.push(NO_ACCUMULATOR_WORD)
  else result.accumulator = { bits, word: accumulator.word, errorPercent: accumulator.relativeError * 100 }
  return result
}

const NO_ACCUMULATOR_WORD: Note = infoNote(
  'no-accumulator-word',
  'A phase accumulator outputs fewer pulses than it receives, and its word must be at least 1: this ratio is outside the range of the width.',
)
