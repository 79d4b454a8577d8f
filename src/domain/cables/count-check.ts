import { DomainError } from '../errors.js'
import { countUncertainty } from '../measure/counting.js'
import { type Figure, uncertain } from '../measure/figure.js'
import { fitProportional } from '../measure/line-fit.js'
import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import { product, quotient } from '../measure/propagation.js'
import { outlierIndexes } from '../measure/readings.js'
import { plusMinus } from '../measure/uncertainty.js'

export interface CableCount {
  /** Mean count. */
  readonly turns: Figure
  readonly turnsPerM: Figure
  readonly outliers: readonly number[]
  readonly notes: readonly Note[]
}

/** A count with a larger relative uncertainty (95 %) does not determine a ratio well. */
const MAX_USEFUL_UNCERTAINTY = 0.02

/**
 * Turns of a cable over a distance rolled, from one or more counts.
 *
 *     k = n̄/d      u(n) = q/√6 of each count, q the resolution of the reading      (u_k/k)² = (u_n̄/n̄)² + (u_d/d)²
 *
 * n̄ is the mean of the counts, d the distance.
 *
 * When the counts differ by more than the resolution explains, the uncertainty comes from their scatter. The uncertainty of the distance is common to all.
 *
 * @param counts - Turns counted over the same distance, at least one, each > 0
 * @param resolution - q. [turns, > 0]
 * @param distanceM - Distance rolled. [m, > 0]
 * @returns Mean count, turns per distance [1/m], outliers by index
 * @throws {DomainError} `too-few-readings`, `not-finite`
 * @see US War Department TM 9-1829A; JCGM 100:2008, 4.3.7, F.2.2.1; 1/100 mile (52 ft 9.6 in) as a shop course: common practice
 * @example countCheck([10], 0.25, exact(16.09344)).turnsPerM.value * 1609.344 // 1000 ± 1e-9
 */
export function countCheck(counts: readonly number[], resolution: number, distanceM: Figure): CableCount {
  const uCount = countUncertainty(resolution)
  const line = fitProportional(counts.map((count) => ({ x: 1, y: count, ux: 0, uy: uCount })))
  const turns = uncertain(line.slope, 'turns counted', line.uSlope * line.widening)
  if (!(turns.value > 0)) {
    throw new DomainError('too-few-readings', 'cableTurns: the cable did not turn', { least: 1 })
  }
  const turnsPerM = quotient(turns, distanceM)
  const notes: Note[] = []
  if (line.scatterExceedsUncertainty) {
    notes.push(
      cautionNote(
        'scatter-exceeds-uncertainty',
        'The counts differ by more than the resolution of the reading explains: a wheel slipped, the course was not the same, or the cable slips in its drive. The uncertainty comes from their scatter.',
      ),
    )
  }
  if (plusMinus(turnsPerM) > MAX_USEFUL_UNCERTAINTY * turnsPerM.value) {
    notes.push(
      infoNote(
        'course-too-short',
        `The uncertainty of the turns per distance is ${((100 * plusMinus(turnsPerM)) / turnsPerM.value).toFixed(1)} %: roll farther, count again, or read smaller parts of a turn.`,
      ),
    )
  }
  return { turns, turnsPerM, outliers: outlierIndexes(counts, 2 * uCount), notes }
}

export type Agreement = 'agrees' | 'differs' | 'not-proven'

/** A stage of the path, as far as a comparison needs it. */
export interface ComparedStage {
  readonly ratio: Figure
  readonly teeth?: { readonly driving: number; readonly driven: number }
}

/** The ratio of one stage if it alone explains the count. */
export interface Suspect {
  readonly stage: number
  readonly ratioImplied: Figure
  /** Teeth of the driven gear that explain it, where a whole number lies within the uncertainty. */
  readonly drivenImplied?: number
}

/**
 * Whether a factor of found to expected equals one within its uncertainty.
 *
 *     agrees: |f − 1| <= U and U <= 5 %;  differs: |f − 1| > U;  else not proven
 *
 * @param factor - f, found ÷ expected, with its uncertainty
 * @returns The outcome
 * @see JCGM 100:2008, 6.2 (expanded uncertainty at 95 %); 5 %, about one tooth of a driven gear: common practice
 * @example agreement(uncertain(1.06, 'f', 0.01)) // "differs"
 */
export function agreement(factor: Figure): Agreement {
  const uncertainty = plusMinus(factor)
  if (Math.abs(factor.value - 1) > uncertainty) return 'differs'
  return uncertainty <= 0.05 ? 'agrees' : 'not-proven'
}

/** Maximum number of teeth of a driven gear. */
const MAX_TEETH = 1000

/**
 * Ratio of each stage if it alone explains a count.
 *
 *     r' = r·f,  f = found/expected;  driven gear: z' = z/f
 *
 * r is the ratio of the stage, z the number of teeth of its driven gear.
 *
 * @param stages - Stages of the path
 * @param factor - f, with its uncertainty
 * @returns One suspect for each stage; for a pair of gears with the whole number of driven teeth within the uncertainty
 * @throws {DomainError} `not-finite`
 * @see US Army TM 5-3820-256-24-4 (a new final drive or tire size sometimes needs a new driven gear)
 * @example suspects([{ ratio: exact(0.35), teeth: { driving: 7, driven: 20 } }], uncertain(20 / 21, 'f', 0.01))[0].drivenImplied // 21 ± 0
 */
export function suspects(stages: readonly ComparedStage[], factor: Figure): Suspect[] {
  return stages.map(({ ratio, teeth }, stage) => {
    const ratioImplied = product(ratio, factor)
    if (teeth === undefined) return { stage, ratioImplied }
    const driven = teeth.driven / factor.value
    const nearest = Math.round(driven)
    const uncertainty = (driven * plusMinus(factor)) / factor.value
    return nearest >= 1 &&
      nearest <= MAX_TEETH &&
      nearest !== teeth.driven &&
      Math.abs(nearest - driven) <= Math.max(uncertainty, 1e-9)
      ? { stage, ratioImplied, drivenImplied: nearest }
      : { stage, ratioImplied }
  })
}
