import type { Figure } from '../measure/figure.js'
import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import { plusMinus } from '../measure/uncertainty.js'
import { type Stand, standingS } from './track-stands.js'

/** Maximum uncertainty of a length that is useful for setting a constant, as a fraction (95 %). */
const USABLE_UNCERTAINTY = 0.01

/** Steps longer than this lose corners. [m] */
const FAR_APART_M = 30

/** What is known of a measured track. */
export interface TrackFindings {
  readonly lengthM: Figure
  readonly leftOut: readonly number[]
  readonly stands: readonly Stand[]
  readonly stepM: number
  readonly noiseM: number | undefined
  /** Whether the bounds contradict each other. */
  readonly crossed: boolean
  /** Whether each point has a time. */
  readonly timed: boolean
}

/**
 * Notes on a measured track.
 *
 *     too short: U/L > 1 %;  points far apart: median step > 30 m
 *
 * L is the length, U its uncertainty.
 *
 * @param findings - Length, steps and noise [m], stops and points left out
 * @returns The notes
 * @see common practice, no source
 * @example trackNotes({ lengthM: exact(5000), leftOut: [], stands: [], stepM: 20, noiseM: 1, crossed: false, timed: true }).map(({ code }) => code) // ["length-in-plan"]
 */
export function trackNotes(findings: TrackFindings): Note[] {
  const { lengthM, stepM, noiseM, leftOut, crossed, stands, timed } = findings
  const notes: Note[] = [
    infoNote(
      'length-in-plan',
      'The length is measured on the ellipsoid: a road with a slope of 6 % is 0.18 % longer, one at an elevation of 1000 m 0.016 %. The uncertainty includes an allowance for ordinary roads.',
    ),
  ]
  if (plusMinus(lengthM) > USABLE_UNCERTAINTY * lengthM.value) {
    notes.push(
      cautionNote(
        'track-too-short',
        'The uncertainty of the length is more than 1 %: drive farther, mostly straight, before setting a constant by it.',
      ),
    )
  }
  if (stepM > FAR_APART_M) {
    notes.push(
      cautionNote(
        'points-far-apart',
        `The points lie ${stepM.toFixed(0)} m apart: corners and tight bends between them are lost and no correction restores them, so the uncertainty holds on open roads only. Record one point per second.`,
      ),
    )
  }
  if (noiseM === undefined) {
    notes.push(
      infoNote(
        'noise-not-known',
        'Too few points to estimate the position noise; the uncertainty includes its possible effect.',
      ),
    )
  }
  if (crossed) {
    notes.push(
      cautionNote(
        'bounds-crossed',
        'Choosing points closer together or farther apart gives lengths that differ by more than noise and bends explain; the uncertainty is widened accordingly. The cause may be a turn back, or a stop where points have no time: leave these sections out.',
      ),
    )
  }
  if (!timed) {
    notes.push(
      cautionNote(
        'points-without-time',
        'Some points have no time, so stops cannot be detected: the scatter of positions during a stop counts as distance, and the uncertainty does not cover it. Give times, or leave the stops out.',
      ),
    )
  }
  if (stands.length > 0) {
    notes.push(
      infoNote(
        'stops-merged',
        `The car stood ${stands.length === 1 ? 'once' : `${stands.length} times`}, ${standingS(stands).toFixed(0)} s in total. Each stop counts as one place: the scatter of its positions is left out, and so is any maneuvering there below 1 m/s.`,
      ),
    )
  }
  if (leftOut.length > 0) {
    notes.push(
      cautionNote(
        'impossible-points',
        `${leftOut.length} points were left out: the car would have had to drive faster than 360 km/h to reach them and return.`,
      ),
    )
  }
  return notes
}
