import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import { toSi } from '../measure/units.js'
import { legibility } from './dial-face.js'
import type { DialScale } from './dial-scale.js'
import { type DrawnScale, type ScalesWanted, UNIT_WORDS } from './drawn-scales.js'

/** Minimum font height for easy reading (5.7 points), and the printable width of A4 and Letter. */
const SMALLEST_FONT_M = 0.002
const SMALLEST_PAPER_M = 0.19

// UN R39: steps of the marks, and the maximum step of the numbers, on dials up to 200 km/h and on faster ones.
const R39_STEPS = [1, 2, 5, 10]
const R39_NUMBERS = 20
const R39_NUMBERS_FAST = 30
const R39_FAST_M_PER_S = toSi('speed', 'kmh', 200)

const CAUTIONS: readonly Note[] = [
  cautionNote(
    'drive-not-corrected',
    'A new scale makes the dial agree with the measured pointer angles. It does not correct a wrong ratio, a weak magnet or spring, or a worn cable, and the odometer error remains: find the cause first.',
  ),
  cautionNote(
    'verify-scale',
    'The marks are placed by the best estimate, so within its uncertainty the dial under-reads as often as it over-reads; many rules forbid any under-reading. After fitting the scale, check at least three speeds on the bench or against a reference speed (POST /v1/gauges/calibration) before using the car on the road.',
  ),
  cautionNote(
    'units-by-law',
    'Which units the dial must show, and whether it may be altered at all, depends on the country and the age of the car: UN R39 requires km/h, and mph as well where mph is in use. The inspection authority or a licensed workshop decides.',
  ),
]

/** Notes on how the angles between the marks are known. */
function curveNotes(scale: DialScale, scales: readonly DrawnScale[]): Note[] {
  const notes: Note[] = []
  if (scale.method === 'linear-sweep') {
    notes.push(
      infoNote(
        'linear-scale-assumed',
        'No points were given: the pointer angle is assumed proportional to speed, from zero at sweep.start to max at sweep.end. Few old heads are linear to the end of the scale; measure the pointer angle at some known speeds and give points.',
      ),
    )
  } else if (scale.shifted.length === 0) {
    notes.push(
      infoNote(
        'points-without-uncertainty',
        'No point carries a plusMinus, so all count as exact. Give it: an angle is seldom read to better than 1 degree.',
      ),
    )
  }
  if (scales.some(({ marks }) => marks.some(({ withinPoints }) => !withinPoints))) {
    notes.push(
      cautionNote(
        'marks-beyond-points',
        'Some marks lie below the slowest or above the fastest point (withinPoints false): there the scale is extrapolated in a straight line. Measure a point near each end.',
      ),
    )
  }
  return notes
}

/** Notes on the marks of one scale. */
function marksNotes({ unit, circle, placed, notes, steps }: DrawnScale, maxMPerS: number): Note[] {
  const all = [...notes]
  if (legibility(circle, placed).endsMeet) {
    all.push(
      cautionNote(
        'ends-meet',
        `The last number of the ${UNIT_WORDS[unit]} scale would coincide with the first, so it is left out, and the pointer cannot distinguish the two. Give a narrower sweep.`,
      ),
    )
  }
  const maxNumberStep = maxMPerS > R39_FAST_M_PER_S && unit === 'kmh' ? R39_NUMBERS_FAST : R39_NUMBERS
  if (!R39_STEPS.includes(steps.minor) || steps.number > maxNumberStep) {
    all.push(
      infoNote(
        'steps-outside-un-r39',
        `UN R39 has marks every 1, 2, 5 or 10 and numbers at most ${maxNumberStep} apart; the ${UNIT_WORDS[unit]} scale has ${steps.minor} and ${steps.number}. It applies to new cars; older ones may differ.`,
      ),
    )
  }
  return all
}

/** Notes on the printed sheet. */
function sheetNotes({ face = {} }: ScalesWanted, scales: readonly DrawnScale[]): Note[] {
  const notes: Note[] = []
  if (scales.some(({ circle }) => circle.fontHeightM < SMALLEST_FONT_M)) {
    notes.push(
      cautionNote(
        'numbers-small',
        'The font of the numbers is less than 2 mm high: few people can read them while driving. Give a larger radius or leave the second scale out.',
      ),
    )
  }
  if (Math.max(2 * scales[0]!.circle.radiusM, face.edgeDiameterM ?? 0) > SMALLEST_PAPER_M) {
    notes.push(
      infoNote(
        'wider-than-paper',
        'The dial is wider than the printable width of A4 or Letter: use larger paper, never a smaller scale.',
      ),
    )
  }
  if (face.radiusM === undefined) {
    notes.push(
      infoNote(
        'radius-assumed',
        'No face.radius was given: the scale is drawn with a radius of 40 mm. Angles do not depend on it.',
      ),
    )
  }
  return notes
}

/**
 * What is to be said with a printed scale: cautions, how its angles are known, its marks against UN R39, the sheet.
 *
 *     UN R39: minor is 1, 2, 5 or 10;  number ≤ 20, on a km/h scale above 200 km/h ≤ 30
 *
 * @param wanted - What the scales were to show
 * @param scale - Angle of the pointer against speed
 * @param scales - The scales as drawn, the main one first
 * @returns The notes
 * @see 'un-r39-dial' in docs/sources.md; font height and paper: common practice, no source
 * @example printedScaleNotes({ unit: 'mph', maxMPerS: 50 }, dialScale({ startRad: -2, endRad: 2 }, 50), drawnScales({ unit: 'mph', maxMPerS: 50 }, dialScale({ startRad: -2, endRad: 2 }, 50))).at(-1).code // "radius-assumed"
 */
export function printedScaleNotes(
  wanted: ScalesWanted,
  scale: DialScale,
  scales: readonly DrawnScale[],
): Note[] {
  return [
    ...CAUTIONS,
    ...curveNotes(scale, scales),
    ...scales.flatMap((one) => marksNotes(one, wanted.maxMPerS)),
    ...sheetNotes(wanted, scales),
  ]
}
