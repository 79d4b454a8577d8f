import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import { type Dips, type DisplayStatistics, isStop } from './display-statistics.js'
import type { Stretch } from './profile.js'
import type { ReadOut } from './shown-speeds.js'

/** Read-out and disturbances of a simulation. */
interface Disturbed extends ReadOut {
  readonly missed: number
  readonly edgeJitterS: number
}

/** Visible dip of the display: half a unit at 100. */
const SEEN_DIP = 0.005

const percentOf = (share: number) => `${Number((100 * share).toPrecision(3))} %`
const kmhOf = (speedMPerS: number) => `${Number((3.6 * speedMPerS).toFixed(2))} km/h`

/** The silence bound assumes mean gaps, so a late pulse looks like a slower car. */
function boundNotes(
  { missed, edgeJitterS }: Disturbed,
  gapErrors: Float64Array,
  spreadMPerS: number,
  { deepest, heldSpreadMPerS }: Dips,
): Note[] {
  if (deepest <= SEEN_DIP) return []
  const widest = gapErrors.reduce((max, error) => Math.max(max, error), 0)
  const uneven = widest > SEEN_DIP
  const late = [
    uneven ? `gaps of the ring up to ${percentOf(widest)} wider than the mean` : undefined,
    missed > 0 ? 'missed pulses' : undefined,
    edgeJitterS > 0 ? 'late edges' : undefined,
  ].filter((cause) => cause !== undefined)
  const cause = late.length > 0 ? late.join(', ') : 'periods longer than the mean'
  const factor = Math.ceil((1 + widest) * 100) / 100
  const remedy = uneven
    ? `Relax the bound to what the widest gap allows, ${factor}/(pulses per distance × silence), or hold the last value.`
    : 'Hold the last value, or relax the bound to 2/(pulses per distance × silence), which one missed pulse does not reach.'
  return [
    cautionNote(
      'bound-dips',
      `Between pulses, the bound mistakes ${cause} for a slower car: at constant speed the display dips by up to ${percentOf(deepest)}, and its spread is ${kmhOf(spreadMPerS)} instead of ${kmhOf(heldSpreadMPerS)} with the last value held. A mean over a turn does not remove that. ${remedy}`,
    ),
  ]
}

/** What the notes of a simulation are about. */
export interface Simulated {
  readonly statistics: DisplayStatistics
  readonly dips?: Dips
  /** Error of each gap of the ring as a share of the pitch. */
  readonly gapErrors: Float64Array
  readonly pulsesInOneTick: number
}

function zeroNotes(
  { zeroTimeoutS }: Disturbed,
  stretches: readonly Stretch[],
  { timeToZeroS }: DisplayStatistics,
) {
  const stops = stretches.some((stretch, index) => index > 0 && isStop(stretch))
  if (!stops || timeToZeroS !== undefined) return []
  return [
    cautionNote(
      'zero-not-shown',
      zeroTimeoutS === undefined
        ? 'The car stops but the display never shows zero: give zeroTimeout.'
        : 'The profile ends, or the car moves off again, before the display shows zero.',
    ),
  ]
}

function wrapNotes({
  timerBits,
  timerTickS,
  pulsesPerM,
  zeroTimeoutS = Number.POSITIVE_INFINITY,
}: Disturbed) {
  if (timerBits === undefined || timerTickS <= 0) return []
  const wrapS = 2 ** timerBits * timerTickS
  if (zeroTimeoutS <= wrapS) return []
  const lowest = 1 / (pulsesPerM * wrapS)
  return [
    cautionNote(
      'counter-wraps-in-a-period',
      `The counter wraps every ${wrapS} s, before the display shows zero: below ${lowest * 3.6} km/h a period does not fit the counter, and a slow car reads as a fast one. Use a wider counter, a longer tick or a shorter zeroTimeout.`,
    ),
  ]
}

/**
 * What is to be said of a simulated display.
 *
 *     counter wraps every 2^bits · tick;  below 1/(K · wrap) a period does not fit
 *
 * K is pulses per distance.
 *
 * @param request - Read-out, missed pulses, jitter
 * @param stretches - The drive
 * @param simulated - Statistics of the display, gaps of the ring, pulses without a reading
 * @returns Notes: zero never shown, wraps within a period, pulses in one count, dips between pulses, age of what is shown
 * @see derived
 * @example simulationNotes({ pulsesPerM: 4, timerTickS: 0, filterOn: 'speed', betweenPulses: 'hold', display: { everyS: 0.1 }, missed: 0, edgeJitterS: 0 }, [], { statistics: { rmsErrorMPerS: 0, peakErrorMPerS: 0, peakErrorAtS: 0 }, gapErrors: new Float64Array(1), pulsesInOneTick: 2 })[0].code // "pulses-in-one-tick"
 */
export function simulationNotes(
  request: Disturbed,
  stretches: readonly Stretch[],
  simulated: Simulated,
): Note[] {
  const { statistics, dips, gapErrors, pulsesInOneTick } = simulated
  const notes: Note[] = [...zeroNotes(request, stretches, statistics), ...wrapNotes(request)]
  if (pulsesInOneTick > 0) {
    notes.push(
      cautionNote(
        'pulses-in-one-tick',
        `${pulsesInOneTick} pulses came within one timer count of the pulse before and gave no reading: the tick is too long, or pulses are doubled.`,
      ),
    )
  }
  const { steadySpreadMPerS, lagS } = statistics
  if (dips !== undefined && steadySpreadMPerS !== undefined)
    notes.push(...boundNotes(request, gapErrors, steadySpreadMPerS, dips))
  if (lagS !== undefined) {
    notes.push(
      infoNote(
        'lag-at-updates',
        'Errors and lag hold at the display updates; what a driver sees is on average half a display period older.',
      ),
    )
  }
  return notes
}
