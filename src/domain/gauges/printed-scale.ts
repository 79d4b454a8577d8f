import { DomainError, withPointer } from '../errors.js'
import { type BudgetLine, budget } from '../measure/budget.js'
import type { Figure } from '../measure/figure.js'
import { infoNote, type Note } from '../measure/notes.js'
import type { SourceId } from '../measure/sources.js'
import { plusMinus } from '../measure/uncertainty.js'
import type { Mutable } from '../mutable.js'
import { checkCutouts, type Face } from './dial-cutouts.js'
import { legibility, type Place, placeOf } from './dial-face.js'
import {
  angleOfSpeed,
  type DialScale,
  dialScale,
  type Graduation,
  isReachable,
  isWithinPoints,
  type MarkKind,
  type ScaleMark,
  type ScaleMethod,
  type ScalePoint,
  type Sweep,
  speedOfAngle,
} from './dial-scale.js'
import {
  type DrawnScale,
  drawnScales,
  type ScalesWanted,
  type ScaleUnit,
  unitLabels,
} from './drawn-scales.js'
import { printedScaleNotes } from './printed-scale-notes.js'

export interface PrintedScaleRequest extends ScalesWanted {
  readonly sweep: Sweep
  /** Left out: the scale is linear over the sweep. */
  readonly points?: readonly ScalePoint[]
  /** Speeds whose angles are given as well. */
  readonly speedsMPerS?: readonly number[]
  /** Angles whose speeds are given as well. */
  readonly anglesRad?: readonly number[]
}

/** A place on the printed dial: to the right, and downward from its center. */
export interface PrintedPlace {
  readonly xMm: number
  readonly yMm: number
}

export interface PrintedMark {
  readonly unit: ScaleUnit
  readonly value: number
  readonly kind: MarkKind
  readonly label?: string
  readonly angleRad: Figure
  /** Speed of the mark, with the uncertainty of reading the pointer there. */
  readonly speedMPerS: Figure
  readonly withinPoints: boolean
  readonly outerEnd: PrintedPlace
  readonly innerEnd: PrintedPlace
  /** Center of the number. */
  readonly labelAt?: PrintedPlace
}

export interface PrintedCircle {
  readonly unit: ScaleUnit
  readonly radiusM: number
  readonly fontHeightM: number
  readonly graduations: Graduation
  readonly closestMarksM?: number
}

export interface PrintedFace {
  readonly edgeDiameterM?: number
  readonly holeDiameterM?: number
  readonly window?: { readonly center: PrintedPlace; readonly widthM: number; readonly heightM: number }
}

export interface PrintedScale {
  readonly direction: DialScale['direction']
  readonly method: ScaleMethod
  readonly sweep: Sweep
  readonly scales: readonly PrintedCircle[]
  readonly marks: readonly PrintedMark[]
  /** The pin on which the pointer rests, and the speed there. */
  readonly zeroStop?: {
    readonly angleRad: number
    readonly at: PrintedPlace
    readonly speedMPerS: { readonly value: number; readonly plusMinus: number }
  }
  readonly angleAt: ReadonlyArray<{
    readonly speedMPerS: number
    readonly angleRad: Figure
    readonly withinPoints: boolean
  }>
  readonly speedAt: ReadonlyArray<{
    readonly angleRad: number
    readonly speedMPerS: Figure
    readonly withinPoints: boolean
  }>
  readonly unitLabels: ReadonlyArray<{
    readonly text: string
    readonly at: PrintedPlace
    readonly fontHeightM: number
  }>
  readonly face: PrintedFace
  /** Of the speed at the mark with the largest uncertainty. */
  readonly budget: readonly BudgetLine[]
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

const printed = ({ xM, yM }: Place): PrintedPlace => ({ xMm: xM * 1000, yMm: yM * 1000 })

/** Marks of a scale; where its ends meet the last number is left out. */
function printedMarks({ unit, circle, placed }: DrawnScale): PrintedMark[] {
  const last = placed.findLast(({ label }) => label !== undefined)
  const leftOut = legibility(circle, placed).endsMeet ? last : undefined
  return placed.map((one) => {
    const { mark, outer, inner, label } = one
    const out: Mutable<PrintedMark> = {
      unit,
      value: mark.value,
      kind: mark.kind,
      angleRad: mark.angleRad,
      speedMPerS: mark.speedMPerS,
      withinPoints: mark.withinPoints,
      outerEnd: printed(outer),
      innerEnd: printed(inner),
    }
    if (label !== undefined && one !== leftOut) {
      out.label = label.text
      out.labelAt = printed(label.center)
    }
    return out
  })
}

function printedCircle({ unit, circle, steps, placed }: DrawnScale): PrintedCircle {
  const { closestM } = legibility(circle, placed)
  const { number, major, minor } = steps
  const out: Mutable<PrintedCircle> = {
    unit,
    radiusM: circle.radiusM,
    fontHeightM: circle.fontHeightM,
    graduations: { number, major, minor },
  }
  if (closestM !== undefined) out.closestMarksM = closestM
  return out
}

function printedFace({ edgeDiameterM, holeDiameterM, window }: Face): PrintedFace {
  const face: Mutable<PrintedFace> = {}
  if (edgeDiameterM !== undefined) face.edgeDiameterM = edgeDiameterM
  if (holeDiameterM !== undefined) face.holeDiameterM = holeDiameterM
  if (window !== undefined) {
    const { widthM, heightM, rightM = 0, downM = 0 } = window
    face.window = { center: printed({ xM: rightM, yM: downM }), widthM, heightM }
  }
  return face
}

/** The mark with the largest uncertainty of speed. */
const widestMark = (marks: readonly ScaleMark[]) =>
  marks.reduce((worst, mark) => (plusMinus(mark.speedMPerS) > plusMinus(worst.speedMPerS) ? mark : worst))

function checkZeroStop(scale: DialScale, zeroStopRad: number): void {
  const { startRad, endRad } = scale.sweep
  if (isReachable(scale, startRad, zeroStopRad) && isReachable(scale, zeroStopRad, endRad)) return
  throw new DomainError('out-of-range', 'zeroStop: expected an angle between sweep.start and sweep.end', {
    pointer: '/zeroStop',
  })
}

function zeroStopOf(scale: DialScale, angleRad: number, radiusM: number) {
  const speed = speedOfAngle(scale, angleRad)
  const note: Note =
    speed.value > 0
      ? infoNote(
          'below-zero-stop',
          'Below the speed of zeroStop the pointer rests on its pin and shows nothing, so there are no marks.',
        )
      : infoNote(
          'zero-stop-not-reached',
          'The pin lies before the zero of the scale: a pointer without pretension comes to rest at zero and does not touch it.',
        )
  const zeroStop = {
    angleRad,
    at: printed(placeOf(radiusM, angleRad)),
    speedMPerS: { value: Math.max(0, speed.value), plusMinus: plusMinus(speed) },
  }
  return { zeroStop, note }
}

function sourcesOf({ method }: DialScale): SourceId[] {
  const sources: SourceId[] = ['definitions', 'scale-unit-length', 'dial-proportions', 'un-r39-dial']
  if (method !== 'linear-sweep') sources.push('caller-reading', 'gum')
  if (method === 'monotone-cubic') sources.push('monotone-cubic')
  return sources
}

/**
 * A new scale for a dial: angle and place of every mark, in one unit or both, with numbers and unit names.
 *
 *     angle of a mark = θ(v), by `dialScale`;  x = r·sin θ,  y = −r·cos θ
 *
 * v is the speed, θ its angle clockwise from straight up, r the radius of the scale.
 *
 * @param request - Sweep and points [rad, m/s], unit, range, steps, radii and openings [m]
 * @returns Marks and scales in place, angles and speeds asked for, budget of the mark with the largest uncertainty
 * @throws {DomainError} `out-of-range`, `too-few-readings`, `scale-points-not-advancing`, `scale-beyond-sweep`, `scale-steps-do-not-nest`, `scale-marks-crowded`
 * @see 'scale-unit-length', 'dial-proportions' and 'un-r39-dial' in docs/sources.md
 * @example printedScale({ sweep: { startRad: -2, endRad: 2 }, unit: 'mph', maxMPerS: 50, speedsMPerS: [25] }).angleAt[0].angleRad.value // 0 ± 1e-12
 * @example printedScale({ sweep: { startRad: -2, endRad: 2 }, unit: 'mph', maxMPerS: 50, face: { edgeDiameterM: 0.07 } }) // throws out-of-range
 */
export function printedScale(request: PrintedScaleRequest): PrintedScale {
  const { sweep, points, maxMPerS, zeroStopRad, speedsMPerS = [], anglesRad = [], face = {} } = request
  const scale = dialScale(sweep, maxMPerS, points)
  if (zeroStopRad !== undefined) checkZeroStop(scale, zeroStopRad)
  const scales = drawnScales(request, scale)
  const words = unitLabels(scale, scales)
  const { radiusM } = scales[0]!.circle
  const placed = scales.flatMap((one) => one.placed)
  const cutNotes = withPointer('/face', () => checkCutouts(face, radiusM, placed, words))
  const notes = [...printedScaleNotes(request, scale, scales), ...cutNotes]
  const out: Mutable<PrintedScale> = {
    direction: scale.direction,
    method: scale.method,
    sweep: scale.sweep,
    scales: scales.map(printedCircle),
    marks: scales.flatMap(printedMarks),
    angleAt: speedsMPerS.map((speedMPerS) => ({
      speedMPerS,
      angleRad: angleOfSpeed(scale, speedMPerS),
      withinPoints: isWithinPoints(scale, speedMPerS),
    })),
    speedAt: anglesRad.map((angleRad) => {
      const speedMPerS = speedOfAngle(scale, angleRad)
      return { angleRad, speedMPerS, withinPoints: isWithinPoints(scale, speedMPerS.value) }
    }),
    unitLabels: words.map(({ text, center, fontHeightM }) => ({ text, at: printed(center), fontHeightM })),
    face: printedFace(face),
    budget: budget(widestMark(scales[0]!.marks).speedMPerS),
    sources: sourcesOf(scale),
    notes,
  }
  if (zeroStopRad !== undefined) {
    const { zeroStop, note } = zeroStopOf(scale, zeroStopRad, radiusM)
    out.zeroStop = zeroStop
    notes.push(note)
  }
  return out
}
