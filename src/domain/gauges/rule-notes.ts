import type { Reading } from '../drive-paths/path.js'
import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import type { NamedRule } from './verdicts.js'

export const RULES_CAUTION: Note = cautionNote(
  'rules-are-a-help',
  'Rules differ by country and date. The rule table is an aid, not legal advice: the inspection authority or a licensed workshop decides.',
)

/** Notes on odometer rules, where only the indicated speed is known. */
export const distanceNotes = (rules: readonly NamedRule[]): Note[] =>
  rules.flatMap(({ id, rule }): Note[] =>
    rule.distanceFraction === undefined
      ? []
      : [
          infoNote(
            'distance-not-judged',
            `${id} limits the error of the odometer to ${rule.distanceFraction * 100} % either way. Readings of the dial say nothing about it: use POST /v1/odometers/error.`,
          ),
        ],
  )

/** Note on readings beyond the last mark of the dial. */
export const dialNotes = (readings: readonly Reading[], dialMaxMPerS: number | undefined): Note[] =>
  dialMaxMPerS === undefined || !readings.some(({ indicatedMPerS }) => indicatedMPerS > dialMaxMPerS)
    ? []
    : [
        infoNote(
          'beyond-dial',
          'At the highest speeds the indicated speed lies beyond the last mark of the dial, where the pointer stops.',
        ),
      ]
