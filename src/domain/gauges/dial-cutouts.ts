import { DomainError } from '../errors.js'
import { cautionNote, type Note } from '../measure/notes.js'
import { boxOf, overlap, type Place, type PlacedMark, type Word } from './dial-face.js'

/** Dimensions of the printed dial: its main scale, its outer edge, openings. */
export interface Face {
  /** Radius of the main scale. */
  readonly radiusM?: number
  readonly edgeDiameterM?: number
  /** Of the hole for the pointer's shaft. */
  readonly holeDiameterM?: number
  readonly window?: {
    readonly widthM: number
    readonly heightM: number
    /** Center of the window relative to the center of the dial: to the right, and downward; left out: 0. */
    readonly rightM?: number
    readonly downM?: number
  }
}

/**
 * A length in millimeters for messages.
 *
 *     1000 · l, to four digits
 *
 * @param lengthM - l [m]
 * @returns l [mm]
 * @see definition of the millimeter; the rounding: common practice, no source
 * @example millimeters(0.0405678) // 40.57 ± 0
 */
export const millimeters = (lengthM: number) => Number((lengthM * 1000).toPrecision(4))

/**
 * Rejects impossible openings, and returns a caution for openings that cut into marks, numbers or unit names.
 *
 *     edge > 2·r,  hole < 2·r,  corners of the window within the edge: √(x² + y²) < edge/2, without an edge < r
 *
 * Edge and hole are diameters, r is the radius of the scale, x and y are the coordinates of a corner from the center of the dial.
 *
 * @param face - Edge, hole and window
 * @param radiusM - Radius of the outer scale. [m]
 * @param placed - Marks of all scales
 * @param words - Unit names
 * @returns At most one note
 * @throws {DomainError} `out-of-range`, naming the dimension
 * @see derived: plane geometry
 * @example checkCutouts({ edgeDiameterM: 0.07 }, 0.04, [], []) // throws out-of-range
 */
export function checkCutouts(
  face: Face,
  radiusM: number,
  placed: readonly PlacedMark[],
  words: readonly Word[],
): Note[] {
  const { edgeDiameterM, holeDiameterM, window } = face
  if (edgeDiameterM !== undefined && edgeDiameterM <= 2 * radiusM) {
    throw new DomainError(
      'out-of-range',
      `edgeDiameter: expected more than ${millimeters(2 * radiusM)} mm, twice the radius of the scale, got ${millimeters(edgeDiameterM)} mm`,
      { pointer: '/edgeDiameter' },
    )
  }
  if (holeDiameterM !== undefined && holeDiameterM >= 2 * radiusM) {
    throw new DomainError(
      'out-of-range',
      `holeDiameter: expected less than ${millimeters(2 * radiusM)} mm, twice the radius of the scale, got ${millimeters(holeDiameterM)} mm`,
      { pointer: '/holeDiameter' },
    )
  }
  const limitM = edgeDiameterM === undefined ? radiusM : edgeDiameterM / 2
  const { widthM = 0, heightM = 0, rightM = 0, downM = 0 } = window ?? {}
  const farthestM = Math.hypot(Math.abs(rightM) + widthM / 2, Math.abs(downM) + heightM / 2)
  if (farthestM >= limitM) {
    throw new DomainError(
      'out-of-range',
      `window: expected all of it within ${millimeters(limitM)} mm of the center, but a corner lies ${millimeters(farthestM)} mm from it`,
      { pointer: '/window' },
    )
  }
  const opening = { center: { xM: rightM, yM: downM }, halfWidthM: widthM / 2, halfHeightM: heightM / 2 }
  const bore = (holeDiameterM ?? 0) / 2
  const cutsPlace = ({ xM, yM }: Place) =>
    Math.hypot(xM, yM) < bore ||
    (Math.abs(xM - rightM) < opening.halfWidthM && Math.abs(yM - downM) < opening.halfHeightM)
  const cutsWord = (word: Word) => {
    const box = boxOf(word)
    // Distance of the box of the text from the center of the dial.
    const nearest = Math.hypot(
      Math.max(0, Math.abs(word.center.xM) - box.halfWidthM),
      Math.max(0, Math.abs(word.center.yM) - box.halfHeightM),
    )
    return nearest < bore || (window !== undefined && overlap(box, opening))
  }
  const numbers = placed.flatMap(({ label }) => (label === undefined ? [] : [label]))
  const ends = placed.flatMap(({ inner, outer }) => [inner, outer])
  if (!ends.some(cutsPlace) && ![...numbers, ...words].some(cutsWord)) return []
  return [
    cautionNote(
      'opening-over-marks',
      'The hole or the window cuts into marks, numbers or a unit name: move it, make it smaller, or change the radius of the scale.',
    ),
  ]
}
