import type { ExactRatio } from '../measure/ratio.js'

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
