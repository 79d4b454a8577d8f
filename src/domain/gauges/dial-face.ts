import { DomainError } from '../errors.js'
import { cautionNote, type Note } from '../measure/notes.js'
import type { Graduation, ScaleMark, Sweep } from './dial-scale.js'

/** A place on the dial: x to the right, y downward, from its center. */
export interface Place {
  readonly xM: number
  readonly yM: number
}

/** The circle of one scale: marks reach inward from it, numbers stand inside them. */
export interface ScaleCircle {
  readonly radiusM: number
  readonly majorLengthM: number
  readonly minorLengthM: number
  /** Height of the font; a digit is about three quarters as high. */
  readonly fontHeightM: number
}

export interface PlacedMark {
  readonly mark: ScaleMark
  readonly outer: Place
  readonly inner: Place
  readonly label?: Word
}

/** An upright text on the dial: a number or the name of a unit. */
export interface Word {
  readonly text: string
  readonly center: Place
  readonly fontHeightM: number
}

// Proportions of the drawing, as fractions of the radius.
const MAJOR_LENGTH = 0.11
const MINOR_LENGTH = 0.065
const FONT_HEIGHT = 0.13
const LABEL_GAP = 0.03

// Size of a digit in common sans-serif fonts, as fractions of the font height, with a small margin.
const DIGIT_WIDTH = 0.65
const DIGIT_HEIGHT = 0.8

/** Center distance of neighboring marks: easy to read at arm's length, and the minimum that still prints as two lines. */
export const READABLE_GAP_M = 1.3e-3
const MIN_GAP_M = 0.6e-3

/** Common sets of steps, finest first; the last ones suit short scales. */
const DEFAULT_STEPS: readonly Graduation[] = [
  { number: 10, major: 5, minor: 1 },
  { number: 10, major: 10, minor: 2 },
  { number: 20, major: 10, minor: 2 },
  { number: 10, major: 10, minor: 5 },
  { number: 20, major: 10, minor: 5 },
  { number: 20, major: 20, minor: 10 },
  { number: 50, major: 50, minor: 10 },
  { number: 100, major: 50, minor: 50 },
  { number: 200, major: 100, minor: 100 },
  { number: 5, major: 5, minor: 1 },
  { number: 1, major: 1, minor: 1 },
]

/**
 * A place by its angle and its distance from the center.
 *
 *     x = r·sin θ,  y = −r·cos θ
 *
 * @param radiusM - r. [m]
 * @param angleRad - θ, clockwise from straight up. [rad]
 * @returns The place, x to the right, y downward. [m]
 * @see derived: definition of sine and cosine
 * @example placeOf(0.04, Math.PI / 2).xM // 0.04 ± 1e-15
 */
export function placeOf(radiusM: number, angleRad: number): Place {
  return { xM: radiusM * Math.sin(angleRad), yM: -radiusM * Math.cos(angleRad) }
}

/**
 * Proportions of a scale.
 *
 *     long marks 0.11 r, short marks 0.065 r, font 0.13 r
 *
 * @param radiusM - r, to the outer ends of the marks. [m]
 * @returns The circle
 * @see common practice, no source
 * @example scaleCircle(0.04).majorLengthM // 0.0044 ± 1e-15
 */
export function scaleCircle(radiusM: number): ScaleCircle {
  return {
    radiusM,
    majorLengthM: MAJOR_LENGTH * radiusM,
    minorLengthM: MINOR_LENGTH * radiusM,
    fontHeightM: FONT_HEIGHT * radiusM,
  }
}

/** An upright text whose box touches a circle from inside. */
function wordInside(text: string, fontHeightM: number, circleM: number, angleRad: number): Word {
  const { halfWidthM, halfHeightM } = boxOf({ text, fontHeightM, center: placeOf(0, 0) })
  const reach = halfWidthM * Math.abs(Math.sin(angleRad)) + halfHeightM * Math.abs(Math.cos(angleRad))
  return { text, fontHeightM, center: placeOf(circleM - reach, angleRad) }
}

/** The circle that the numbers touch. */
const labelCircleM = ({ radiusM, majorLengthM }: ScaleCircle) => radiusM - majorLengthM - LABEL_GAP * radiusM

/**
 * Radius inside which a scale leaves the dial free.
 *
 *     r − long mark − gap − √(w² + h²) of the widest number, the most that an upright box takes along any radius
 *
 * r is the radius of the scale, w and h are the width and the height of the number.
 *
 * @param circle - The scale
 * @param marks - Its marks
 * @returns The radius. [m]
 * @see derived: sum of the lengths between the circle and the center
 * @example freeRadiusM(scaleCircle(0.04), []) // 0.0344 ± 1e-12
 */
export function freeRadiusM(circle: ScaleCircle, marks: readonly ScaleMark[]): number {
  const widest = marks.reduce(
    (most, { kind, value }) => (kind === 'numbered' && value > most ? value : most),
    0,
  )
  const box = boxOf({ text: String(widest), fontHeightM: circle.fontHeightM, center: placeOf(0, 0) })
  const numbered = marks.some(({ kind }) => kind === 'numbered')
  return labelCircleM(circle) - (numbered ? 2 * Math.hypot(box.halfWidthM, box.halfHeightM) : 0)
}

/**
 * Marks on the dial, with their numbers.
 *
 *     line from r to r − length at θ;  the box of each upright number touches one circle from inside
 *
 * r is the radius of the scale, θ the angle of the mark.
 *
 * @param circle - The scale
 * @param marks - Its marks, by speed
 * @returns Marks in the same order
 * @see derived: polar coordinates
 * @example placeMarks(scaleCircle(0.04), []) // []
 */
export function placeMarks(circle: ScaleCircle, marks: readonly ScaleMark[]): PlacedMark[] {
  const { radiusM, majorLengthM, minorLengthM } = circle
  return marks.map((mark) => {
    const angle = mark.angleRad.value
    const length = mark.kind === 'minor' ? minorLengthM : majorLengthM
    const placed = { mark, outer: placeOf(radiusM, angle), inner: placeOf(radiusM - length, angle) }
    if (mark.kind !== 'numbered') return placed
    const label = wordInside(String(mark.value), circle.fontHeightM, labelCircleM(circle), angle)
    return { ...placed, label }
  })
}

/** Bounding box of a text. */
export interface Box {
  readonly center: Place
  readonly halfWidthM: number
  readonly halfHeightM: number
}

/**
 * Bounding box of an upright text.
 *
 *     width = characters × 0.65 × font height,  height = 0.8 × font height
 *
 * @param word - The text and its place
 * @returns The box, with a small margin around the text
 * @see common practice, no source (widths of common sans-serif fonts)
 * @example boxOf({ text: '100', center: { xM: 0, yM: 0 }, fontHeightM: 0.01 }).halfWidthM // 0.00975 ± 1e-12
 */
export function boxOf(word: Word): Box {
  const { text, center, fontHeightM } = word
  return {
    center,
    halfWidthM: (text.length * DIGIT_WIDTH * fontHeightM) / 2,
    halfHeightM: (DIGIT_HEIGHT * fontHeightM) / 2,
  }
}

/**
 * Whether two boxes overlap.
 *
 *     |x₁ − x₂| < w₁ + w₂ and |y₁ − y₂| < h₁ + h₂
 *
 * x and y are the centers of the boxes, w and h half their widths and heights.
 *
 * @param a - A box
 * @param b - Another box
 * @returns False for boxes that only touch
 * @see derived: plane geometry
 * @example overlap(boxOf({ text: '1', center: { xM: 0, yM: 0 }, fontHeightM: 0.01 }), boxOf({ text: '1', center: { xM: 0.006, yM: 0 }, fontHeightM: 0.01 })) // true
 */
export function overlap(a: Box, b: Box): boolean {
  return (
    Math.abs(a.center.xM - b.center.xM) < a.halfWidthM + b.halfWidthM &&
    Math.abs(a.center.yM - b.center.yM) < a.halfHeightM + b.halfHeightM
  )
}

/** Legibility of a scale. */
export interface Legibility {
  /** Minimum center distance of neighboring marks, at the inner ends of the short ones [m]; absent with fewer than two marks. */
  readonly closestM?: number
  readonly closest?: readonly [ScaleMark, ScaleMark]
  /** Two neighboring numbers that would touch. */
  readonly touching?: readonly [string, string]
  /** The last number coincides with the first: the scale covers the full circle. */
  readonly endsMeet: boolean
}

/**
 * Spacing of marks and numbers.
 *
 *     gap = (r − short mark)·min |θᵢ₊₁ − θᵢ|
 *
 * r is the radius of the scale, θᵢ the angles of its marks.
 *
 * @param circle - The scale
 * @param placed - Its marks, by speed
 * @returns Minimum gap, numbers that touch, and whether the first and the last coincide
 * @see derived: arc length
 * @example legibility(scaleCircle(0.04), []).endsMeet // false
 */
export function legibility(circle: ScaleCircle, placed: readonly PlacedMark[]): Legibility {
  const radius = circle.radiusM - circle.minorLengthM
  let nearest: { closestM: number; closest: readonly [ScaleMark, ScaleMark] } | undefined
  for (let i = 1; i < placed.length; i++) {
    const [before, here] = [placed[i - 1]!.mark, placed[i]!.mark]
    const gap = radius * Math.abs(here.angleRad.value - before.angleRad.value)
    if (nearest === undefined || gap < nearest.closestM) nearest = { closestM: gap, closest: [before, here] }
  }
  const labels = placed.flatMap(({ label }) => (label === undefined ? [] : [label]))
  const touches = labels.findIndex((label, i) => i > 0 && overlap(boxOf(labels[i - 1]!), boxOf(label)))
  const [first, last] = [labels[0], labels.at(-1)]
  return {
    ...nearest,
    ...(touches > 0 ? { touching: [labels[touches - 1]!.text, labels[touches]!.text] as const } : {}),
    endsMeet: labels.length > 2 && overlap(boxOf(first!), boxOf(last!)),
  }
}

/**
 * The finest common steps that are legible on a circle.
 *
 *     first of 1, 2, 5, 10 … with gap ≥ 1.3 mm, no numbers touching, two numbers or more
 *
 * @param circle - The scale
 * @param marksOf - The marks that steps make
 * @returns The steps; undefined when none are legible
 * @see 'scale-unit-length' in docs/sources.md
 * @example finestSteps(scaleCircle(0.04), () => []) === undefined // true
 */
export function finestSteps(
  circle: ScaleCircle,
  marksOf: (steps: Graduation) => readonly ScaleMark[],
): Graduation | undefined {
  return DEFAULT_STEPS.find((steps) => {
    const marks = marksOf(steps)
    const { closestM = 0, touching } = legibility(circle, placeMarks(circle, marks))
    const numbers = marks.filter(({ kind }) => kind === 'numbered').length
    return numbers >= 2 && closestM >= READABLE_GAP_M && touching === undefined
  })
}

const mm = (lengthM: number) => Number((lengthM * 1000).toPrecision(3))

/**
 * Rejects marks that merge, and returns a caution for marks that are hard to read.
 *
 *     gap < 0.6 mm or numbers that touch: rejected;  gap < 1.3 mm: caution
 *
 * @param circle - The scale
 * @param placed - Its marks, by speed
 * @param unit - Name of the unit, for the text
 * @param findBetter - Finds common steps that are legible, if there are any
 * @returns At most one note
 * @throws {DomainError} `scale-marks-crowded`, saying what to give instead
 * @see 'scale-unit-length' in docs/sources.md
 * @example checkLegible(scaleCircle(0.04), [], 'mph', () => undefined) // []
 */
export function checkLegible(
  circle: ScaleCircle,
  placed: readonly PlacedMark[],
  unit: string,
  findBetter: () => Graduation | undefined,
): Note[] {
  const { closestM, closest, touching } = legibility(circle, placed)
  if (touching === undefined && (closestM === undefined || closestM >= READABLE_GAP_M)) return []
  const instead = findBetter()
  const better =
    instead === undefined
      ? 'give a larger radius or a shorter scale'
      : `give number ${instead.number}, major ${instead.major}, minor ${instead.minor}, or a larger radius`
  if (closestM !== undefined && closestM < MIN_GAP_M) {
    const [a, b] = closest!
    throw new DomainError(
      'scale-marks-crowded',
      `minor: the marks of ${a.value} and ${b.value} ${unit} would stand ${mm(closestM)} mm apart; expected at least ${mm(MIN_GAP_M)} mm: ${better}`,
      { pointer: '/minor', closestM },
    )
  }
  if (touching !== undefined) {
    throw new DomainError(
      'scale-marks-crowded',
      `number: the numbers ${touching[0]} and ${touching[1]} (${unit}) would touch; ${better}`,
      { pointer: '/number' },
    )
  }
  const [a, b] = closest!
  return [
    cautionNote(
      'marks-close',
      `The marks of ${a.value} and ${b.value} ${unit} stand ${mm(closestM!)} mm apart; below ${mm(READABLE_GAP_M)} mm they are hard to distinguish at arm's length: ${better}.`,
    ),
  ]
}

// A gap of this size outside the sweep has room for a unit name on the scale's own circle, still near the scale.
const MIN_WORD_GAP_RAD = (50 * Math.PI) / 180
const MAX_WORD_GAP_RAD = (200 * Math.PI) / 180
const WORD_FONT = 0.7

const backGapRad = ({ startRad, endRad }: Sweep) => 2 * Math.PI - Math.abs(endRad - startRad)

/**
 * Whether the unit names go on the circles of their scales, in the gap outside the sweep.
 *
 *     50° ≤ 360° − sweep ≤ 200°
 *
 * @param sweep - Where the scale starts and ends
 * @returns False where they go near the center
 * @see common practice, no source
 * @example wordsInGap({ startRad: -2, endRad: 2 }) // true
 */
export function wordsInGap(sweep: Sweep): boolean {
  const gap = backGapRad(sweep)
  return gap >= MIN_WORD_GAP_RAD && gap <= MAX_WORD_GAP_RAD
}

/**
 * Position of a unit name: in the gap outside the sweep, or else above or below the center.
 *
 *     θ = θ_end ± (360° − sweep)/2
 *
 * θ_end is the angle at which the sweep ends.
 *
 * @param text - The unit name
 * @param circle - Its scale
 * @param sweep - Where the scale starts and ends
 * @param freeM - Radius inside all scales. [m]
 * @param side - Above (-1) or below (1) the center, where there is no gap
 * @returns The unit name and its place
 * @see common practice, no source
 * @example placeWord('mph', scaleCircle(0.04), { startRad: 0, endRad: 2 * Math.PI }, 0.02, -1).center.yM // -0.012 ± 1e-12
 */
export function placeWord(
  text: string,
  circle: ScaleCircle,
  sweep: Sweep,
  freeM: number,
  side: -1 | 1,
): Word {
  const fontHeightM = WORD_FONT * circle.fontHeightM
  if (wordsInGap(sweep)) {
    const half = (Math.sign(sweep.endRad - sweep.startRad) * backGapRad(sweep)) / 2
    return wordInside(text, fontHeightM, circle.radiusM, sweep.endRad + half)
  }
  return {
    text,
    fontHeightM: Math.min(fontHeightM, 0.2 * freeM),
    center: { xM: 0, yM: side * 0.6 * freeM },
  }
}
