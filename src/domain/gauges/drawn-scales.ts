import { DomainError, withPointer } from '../errors.js'
import type { Note } from '../measure/notes.js'
import { toSi } from '../measure/units.js'
import { type Face, millimeters } from './dial-cutouts.js'
import {
  checkLegible,
  finestSteps,
  freeRadiusM,
  type PlacedMark,
  placeMarks,
  placeWord,
  type ScaleCircle,
  scaleCircle,
  type Word,
  wordsInGap,
} from './dial-face.js'
import {
  checkWithinSweep,
  type DialScale,
  type Graduation,
  isReachable,
  type ScaleMark,
  scaleMarks,
} from './dial-scale.js'

/** Unit of a scale. */
export type ScaleUnit = 'mph' | 'kmh'

export const UNIT_WORDS: Readonly<Record<ScaleUnit, string>> = { mph: 'mph', kmh: 'km/h' }
const OTHER: Readonly<Record<ScaleUnit, ScaleUnit>> = { mph: 'kmh', kmh: 'mph' }
const UNIT_M_PER_S: Readonly<Record<ScaleUnit, number>> = {
  mph: toSi('speed', 'mph', 1),
  kmh: toSi('speed', 'kmh', 1),
}

/** Default radius of a dial: a common size. */
const DEFAULT_RADIUS_M = 0.04

/** Space between the numbers of the main scale and the marks of the second, as a fraction of the main radius. */
const SECOND_GAP = 0.03

/** Steps of a request; number left out: major; minor left out: major. */
export interface GivenSteps {
  readonly number?: number
  readonly major: number
  readonly minor?: number
}

/** What the scales of a dial are to show. */
export interface ScalesWanted {
  /** Unit of the main scale. */
  readonly unit: ScaleUnit
  readonly maxMPerS: number
  /** Left out: 0. */
  readonly fromMPerS?: number
  /** Angle at which the pointer rests on its pin; left out: there is no pin. */
  readonly zeroStopRad?: number
  /** Left out: the finest legible ones. */
  readonly graduations?: GivenSteps
  /** A second scale inside the main one, in the other unit. */
  readonly secondScale?: { readonly graduations?: GivenSteps; readonly radiusM?: number }
  readonly face?: Face
}

/** One scale with its marks on the dial. */
export interface DrawnScale {
  readonly unit: ScaleUnit
  readonly circle: ScaleCircle
  readonly steps: Graduation
  readonly marks: readonly ScaleMark[]
  readonly placed: readonly PlacedMark[]
  readonly notes: readonly Note[]
}

/** Marks of a scale that the pointer can reach, for any steps. */
function marksOf(
  { fromMPerS = 0, maxMPerS, zeroStopRad }: ScalesWanted,
  scale: DialScale,
  unit: ScaleUnit,
): (steps: Graduation) => ScaleMark[] {
  return (steps) => {
    const marks = scaleMarks(scale, steps, UNIT_M_PER_S[unit], fromMPerS, maxMPerS)
    return zeroStopRad === undefined
      ? marks
      : marks.filter(({ angleRad }) => isReachable(scale, zeroStopRad, angleRad.value))
  }
}

const stepsOf = ({ major, number = major, minor = major }: GivenSteps): Graduation => ({
  number,
  major,
  minor,
})

function drawnScale(
  wanted: ScalesWanted,
  scale: DialScale,
  unit: ScaleUnit,
  radiusM: number,
  given: GivenSteps | undefined,
  pointer: string,
): DrawnScale {
  const circle = scaleCircle(radiusM)
  // Positions of marks do not depend on uncertainties, which take the most time.
  const finest = () => finestSteps(circle, marksOf(wanted, { ...scale, shifted: [] }, unit))
  const steps = given === undefined ? finest() : stepsOf(given)
  const word = UNIT_WORDS[unit]
  if (steps === undefined) {
    throw new DomainError(
      'scale-marks-crowded',
      `graduations: no common steps in ${word} give at least two legible numbers on a radius of ${millimeters(radiusM)} mm; give graduations, a larger radius or a wider range between from and max`,
      { pointer: `${pointer}/graduations` },
    )
  }
  const marks = withPointer(`${pointer}/graduations`, () => marksOf(wanted, scale, unit)(steps))
  if (marks.length < 2) {
    throw new DomainError(
      'out-of-range',
      `max: expected at least two marks between from (or zeroStop) and max, but steps of ${steps.minor} ${word} make ${marks.length}`,
      { pointer: '/max' },
    )
  }
  checkWithinSweep(scale, marks, UNIT_M_PER_S[unit], word)
  const placed = placeMarks(circle, marks)
  const notes = withPointer(`${pointer}/graduations`, () => checkLegible(circle, placed, word, finest))
  return { unit, circle, steps, marks, placed, notes }
}

/** Radius of the second scale: as given, or the largest that leaves enough space. */
function secondRadiusM(given: number | undefined, freeM: number, mainM: number): number {
  if (given === undefined) return freeM - SECOND_GAP * mainM
  if (given > freeM) {
    throw new DomainError(
      'out-of-range',
      `second.radius: expected at most ${millimeters(freeM)} mm, inside the numbers of the outer scale, got ${millimeters(given)} mm`,
      { pointer: '/secondScale/radius' },
    )
  }
  return given
}

function checkSpan({ unit, fromMPerS, maxMPerS }: ScalesWanted): void {
  if (fromMPerS === undefined || fromMPerS < maxMPerS) return
  const [low, high] = [fromMPerS, maxMPerS].map((speed) =>
    Number((speed / UNIT_M_PER_S[unit]).toPrecision(6)),
  )
  throw new DomainError(
    'out-of-range',
    `from: expected less than max, ${high} ${UNIT_WORDS[unit]}, got ${low} ${UNIT_WORDS[unit]}`,
    { pointer: '/from' },
  )
}

/**
 * The scales of a dial with their marks in place: the main one, and inside it the second one in the other unit.
 *
 *     radius of the second scale = free radius inside the main one − 3 % of the main radius, unless given
 *
 * @param wanted - Units, range, steps and radii; radius of the main scale left out: 40 mm, steps left out: the finest legible ones
 * @param scale - Angle of the pointer against speed
 * @returns One scale or two, the main one first
 * @throws {DomainError} `out-of-range`, `scale-beyond-sweep`, `scale-steps-do-not-nest`, `scale-marks-crowded`
 * @see 'scale-unit-length' and 'dial-proportions' in docs/sources.md; default radius and gap: common practice, no source
 * @example drawnScales({ unit: 'mph', maxMPerS: 50 }, dialScale({ startRad: -2, endRad: 2 }, 50)).map(({ circle }) => circle.radiusM) // [0.04]
 */
export function drawnScales(wanted: ScalesWanted, scale: DialScale): DrawnScale[] {
  checkSpan(wanted)
  const { unit, secondScale, face } = wanted
  const radiusM = face?.radiusM ?? DEFAULT_RADIUS_M
  const main = drawnScale(wanted, scale, unit, radiusM, wanted.graduations, '')
  if (secondScale === undefined) return [main]
  const secondM = secondRadiusM(secondScale.radiusM, freeRadiusM(main.circle, main.marks), radiusM)
  return [main, drawnScale(wanted, scale, OTHER[unit], secondM, secondScale.graduations, '/secondScale')]
}

/**
 * The unit names of the scales.
 *
 *     each in the gap outside the sweep of its scale, or else above and below the center
 *
 * @param scale - Angle of the pointer against speed
 * @param scales - The scales, the main one first
 * @returns One a scale
 * @see common practice, no source
 * @example unitLabels(dialScale({ startRad: -2, endRad: 2 }, 50), drawnScales({ unit: 'kmh', maxMPerS: 50 }, dialScale({ startRad: -2, endRad: 2 }, 50)))[0].text // "km/h"
 */
export function unitLabels(scale: DialScale, scales: readonly DrawnScale[]): Word[] {
  const { sweep } = scale
  const innermost = scales.at(-1)!
  const free = freeRadiusM(innermost.circle, innermost.marks)
  // Near the center a unit name is not on its scale, so it states which scale it belongs to.
  const named = scales.length === 2 && !wordsInGap(sweep)
  return scales.map(({ unit, circle }, i) => {
    const word = named ? `${i === 0 ? 'outer' : 'inner'} ${UNIT_WORDS[unit]}` : UNIT_WORDS[unit]
    return placeWord(word, circle, sweep, free, i === 0 ? -1 : 1)
  })
}
