import { offsetRange, ROUNDING } from '../drive-paths/judgment.js'
import type { Figure } from '../measure/figure.js'
import { cautionNote, type Note } from '../measure/notes.js'
import { figureOfRatio, ratioOf } from '../measure/ratio.js'
import { plusMinus } from '../measure/uncertainty.js'
import type { Mutable } from '../mutable.js'
import { judgedSpeeds, MAX_OVER_FRACTION } from '../vehicles/aim.js'
import { percentText, speedText } from '../vehicles/words.js'
import type { Diagnosis, Symptoms } from './head-diagnosis.js'
import {
  type NeverUnderSetting,
  nearSettings,
  type Setting,
  settingForTrue,
  settingNeverUnder,
} from './next-constant.js'

/** What sets the reading now: a constant, or the whole numbers of a pulse scaler. */
export type CurrentSetting =
  | { readonly constantPerM: Figure }
  | {
      readonly multiply: number
      readonly divide: number
      /** Maximum whole number of the scaler; left out: 255, one byte. */
      readonly maxTerm?: number
    }

const DEFAULT_MAX_TERM = 255

/** The number to set next, for a true reading and for one that does not under-read. */
export interface SuggestedSetting {
  /** The error that it corrects. */
  readonly basis: 'speed' | 'distance'
  readonly constantPerM?: Figure
  readonly ratio?: Figure
  readonly noUnderReadingConstantPerM?: number
  readonly noUnderReadingRatio?: number
  readonly noUnderReadingErrorPercent?: number
  readonly settings?: ReadonlyArray<{
    readonly multiply: number
    readonly divide: number
    readonly errorPercent: number
  }>
}

function settingOf(current: CurrentSetting): { setting: Setting; now: Figure } {
  return 'constantPerM' in current
    ? { setting: 'constant', now: current.constantPerM }
    : { setting: 'scaler-ratio', now: figureOfRatio(ratioOf(current.multiply, current.divide)) }
}

/** Notes on errors that remain with the setting that rules out under-reading. */
function neverUnderNotes(
  neverUnder: NeverUnderSetting | undefined,
  { offsetMPerS, unit = 'mph' }: Symptoms,
): Note[] {
  if (neverUnder === undefined) {
    return [
      cautionNote(
        'under-reading-not-excluded',
        'The uncertainty of the scale is too large for any setting to rule out under-reading. Take more readings, over a wider range of speeds.',
      ),
    ]
  }
  const over = neverUnder.overPercent / 100
  if (over <= MAX_OVER_FRACTION + ROUNDING) return []
  const offsetShows = Math.abs(offsetMPerS.value) > plusMinus(offsetMPerS)
  const reads = `With the setting that rules out under-reading, the dial over-reads by up to ${percentText(over, [MAX_OVER_FRACTION])}`
  return [
    offsetShows
      ? cautionNote(
          'offset-beyond-setting',
          `${reads}: the effect of its offset of ${speedText(unit, offsetMPerS.value, [0])} differs at each speed, and no constant or ratio corrects it. Have the zero set first, and calibrate again.`,
        )
      : cautionNote(
          'guard-band-wide',
          `${reads}: the uncertainty of the readings requires such a wide guard band. Take more readings, at low speeds too.`,
        ),
  ]
}

const SET_BY_DISTANCE: Note = cautionNote(
  'set-by-distance',
  'The head itself is wrong, so the suggested number corrects the odometer. Setting it by the speed would hide the fault of the head and make the odometer wrong. The setting that rules out under-reading still goes by the speed, for driving until the head is repaired.',
)
const SET_ON_BENCH: Note = cautionNote(
  'set-on-bench',
  'On the bench the error is in the head, not in a ratio: the suggested number corrects its speed and shifts its odometer by the same amount. Have the head repaired, or check its odometer on the bench first.',
)
const NOT_DISTINGUISHABLE: Note = cautionNote(
  'fault-not-distinguishable',
  'The suggested number corrects the speed; if the fault is in the head, it makes the odometer wrong. Check the odometer over a known distance first.',
)

/** Notes on the choice of the suggested number and on its side effects. */
function choiceNotes({ input, on }: Symptoms, { fault, correctBy, isHeadOut }: Diagnosis): Note[] {
  if (isHeadOut && correctBy === 'distance') return [SET_BY_DISTANCE]
  if (input === 'pulses' || correctBy === 'distance') return []
  if (on === 'bench') return isHeadOut ? [SET_ON_BENCH] : []
  return fault === 'not-distinguishable' ? [NOT_DISTINGUISHABLE] : []
}

/**
 * The setting to try next, and what it does to speed and odometer.
 *
 *     by `settingForTrue` from the error of the speed, or of the odometer where the diagnosis says so;  by `settingNeverUnder`;  by `nearSettings`
 *
 * @param current - Present setting: constant [1/m], or whole numbers of a scaler
 * @param symptoms - Scale and offset of the dial, its odometer where it was checked
 * @param diagnosis - Where the fault is
 * @param speedsMPerS - Round true speeds of the dial, at least one. [m/s, > 0]
 * @returns The setting, and cautions on its side effects
 * @throws {DomainError} `not-finite`, `out-of-range`
 * @see EU 165/2014, Annex I (indicated over true is w/k); JCGM 106:2012, 8.3.2 (guard band)
 * @example suggestedSetting({ constantPerM: exact(1) }, { scale: exact(1.08), offsetMPerS: exact(0), lowestMPerS: 10, highestMPerS: 25 }, { fault: 'ratio', correctBy: 'speed', isHeadOut: false, findings: [] }, [10, 20]).suggested.constantPerM.value // 1.08 ± 1e-12
 */
export function suggestedSetting(
  current: CurrentSetting,
  symptoms: Symptoms,
  diagnosis: Diagnosis,
  speedsMPerS: readonly number[],
): { readonly suggested: SuggestedSetting; readonly notes: readonly Note[] } {
  const { scale, offsetMPerS, odometerPerTrue } = symptoms
  const { correctBy } = diagnosis
  const { setting, now } = settingOf(current)
  const byDistance = correctBy === 'distance' && odometerPerTrue !== undefined
  const forTrue = settingForTrue(setting, now, byDistance ? odometerPerTrue : scale)
  const neverUnder = settingNeverUnder(setting, now, { indicatedPerTrue: scale, offsetMPerS }, speedsMPerS)
  const suggested: Mutable<SuggestedSetting> = { basis: correctBy }
  if ('constantPerM' in current) {
    suggested.constantPerM = forTrue
    if (neverUnder !== undefined) suggested.noUnderReadingConstantPerM = neverUnder.value
  } else {
    suggested.ratio = forTrue
    if (neverUnder !== undefined) suggested.noUnderReadingRatio = neverUnder.value
    // The odometer has no offset.
    const offset = offsetRange(byDistance ? 0 : offsetMPerS.value, judgedSpeeds(speedsMPerS))
    suggested.settings = nearSettings(forTrue, current.maxTerm ?? DEFAULT_MAX_TERM, offset).map(
      ({ numerator, denominator, errorFraction }) => ({
        multiply: numerator,
        divide: denominator,
        errorPercent: errorFraction * 100,
      }),
    )
  }
  if (neverUnder !== undefined) suggested.noUnderReadingErrorPercent = neverUnder.overPercent
  return { suggested, notes: [...choiceNotes(symptoms, diagnosis), ...neverUnderNotes(neverUnder, symptoms)] }
}
