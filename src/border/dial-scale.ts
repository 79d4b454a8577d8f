import type { Static } from '@sinclair/typebox'
import { angleOut, figureOut, figureSi, lengthOut, speedOut, valueSi } from '../codec/measures.js'
import { DomainError, withPointer } from '../domain/errors.js'
import { type Cutouts, checkCutouts, millimeters } from '../domain/gauges/dial-cutouts.js'
import {
  checkLegible,
  finestSteps,
  freeRadiusM,
  legibility,
  type Place,
  type PlacedMark,
  placeMarks,
  placeOf,
  placeWord,
  type ScaleCircle,
  scaleCircle,
  type Word,
  wordsInGap,
} from '../domain/gauges/dial-face.js'
import {
  angleOfSpeed,
  checkWithinSweep,
  type DialScale,
  dialScale,
  type Graduation,
  isReachable,
  isWithinPoints,
  type ScaleMark,
  scaleMarks,
  speedOfAngle,
} from '../domain/gauges/dial-scale.js'
import { budget, plusMinus } from '../domain/measure/figure.js'
import type { Note } from '../domain/measure/notes.js'
import type { SourceId } from '../domain/measure/sources.js'
import { toSi } from '../domain/measure/units.js'
import type { DialScaleRequest, DialScaleShape } from '../schemas/dial-scale.js'
import { provenance } from './provenance.js'

type Request = Static<typeof DialScaleRequest>
type Unit = Request['unit']

const UNIT_WORDS: Readonly<Record<Unit, string>> = { mph: 'mph', kmh: 'km/h' }
const OTHER: Readonly<Record<Unit, Unit>> = { mph: 'kmh', kmh: 'mph' }
const UNIT_M_PER_S: Readonly<Record<Unit, number>> = {
  mph: toSi('speed', 'mph', 1),
  kmh: toSi('speed', 'kmh', 1),
}

/** Default radius of a dial: a common size. */
const DEFAULT_RADIUS_M = 0.04

/** Space between the numbers of the main scale and the marks of the second, as a fraction of the main radius. */
const SECOND_GAP = 0.03

/** Minimum font height for easy reading (5.7 points), and the printable width of A4 and Letter. */
const SMALLEST_FONT_M = 0.002
const SMALLEST_PAPER_M = 0.19

// UN R39: steps of the marks, and the maximum step of the numbers, on dials up to 200 km/h and on faster ones.
const R39_STEPS = [1, 2, 5, 10]
const R39_NUMBERS = 20
const R39_NUMBERS_FAST = 30
const R39_FAST_M_PER_S = toSi('speed', 'kmh', 200)

const CAUTIONS: readonly Note[] = [
  {
    code: 'drive-not-corrected',
    level: 'caution',
    text: 'A new scale makes the dial agree with the measured pointer angles. It does not correct a wrong ratio, a weak magnet or spring, or a worn cable, and the odometer error remains: find the cause first.',
  },
  {
    code: 'verify-scale',
    level: 'caution',
    text: 'The marks are placed by the best estimate, so within its uncertainty the dial under-reads as often as it over-reads; many rules forbid any under-reading. After fitting the scale, check at least three speeds on the bench or against a reference speed (POST /v1/gauges/calibration) before using the car on the road.',
  },
  {
    code: 'units-by-law',
    level: 'caution',
    text: 'Which units the dial must show, and whether it may be altered at all, depends on the country and the age of the car: UN R39 requires km/h, and mph as well where mph is in use. The inspection authority or a licensed workshop decides.',
  },
]

interface DrawnScale {
  readonly unit: Unit
  readonly circle: ScaleCircle
  readonly steps: Graduation
  readonly marks: readonly ScaleMark[]
  readonly placed: readonly PlacedMark[]
  readonly notes: readonly Note[]
}

function curveOf(request: Request): DialScale {
  const sweep = {
    startRad: valueSi('angle', request.sweep.start),
    endRad: valueSi('angle', request.sweep.end),
  }
  const points = request.points?.map(({ angle, speed }, index) => ({
    angleRad: figureSi('angle', angle, `point ${index + 1}: angle`),
    speedMPerS: figureSi('speed', speed, `point ${index + 1}: speed`),
  }))
  return withPointer('', () => dialScale(sweep, valueSi('speed', request.max), points))
}

/** Marks of a scale that the pointer can reach, for any steps. */
function marksOf(request: Request, scale: DialScale, unit: Unit): (steps: Graduation) => ScaleMark[] {
  const from = request.from === undefined ? 0 : valueSi('speed', request.from)
  const to = valueSi('speed', request.max)
  const stop = request.zeroStop === undefined ? undefined : valueSi('angle', request.zeroStop)
  return (steps) => {
    const marks = scaleMarks(scale, steps, UNIT_M_PER_S[unit], from, to)
    return stop === undefined
      ? marks
      : marks.filter(({ angleRad }) => isReachable(scale, stop, angleRad.value))
  }
}

function stepsOf(graduations: NonNullable<Request['graduations']>): Graduation {
  const { major, number = major, minor = major } = graduations
  return { number, major, minor }
}

/** One scale with its marks on the dial, or the reason why it cannot be drawn. */
function drawnScale(
  request: Request,
  scale: DialScale,
  unit: Unit,
  radiusM: number,
  given: Request['graduations'],
  pointer: string,
): DrawnScale {
  const circle = scaleCircle(radiusM)
  // Positions of marks do not depend on uncertainties, which take the most time.
  const finest = () => finestSteps(circle, marksOf(request, { ...scale, shifted: [] }, unit))
  const steps = given === undefined ? finest() : stepsOf(given)
  const word = UNIT_WORDS[unit]
  if (steps === undefined) {
    throw new DomainError(
      'scale-marks-crowded',
      `graduations: no common steps in ${word} give at least two legible numbers on a radius of ${millimeters(radiusM)} mm; give graduations, a larger radius or a wider range between from and max`,
      { pointer: `${pointer}/graduations`, in: 'body' },
    )
  }
  const marks = withPointer(`${pointer}/graduations`, () => marksOf(request, scale, unit)(steps))
  if (marks.length < 2) {
    throw new DomainError(
      'out-of-range',
      `max: expected at least two marks between from (or zeroStop) and max, but steps of ${steps.minor} ${word} make ${marks.length}`,
      { pointer: '/max', in: 'body' },
    )
  }
  withPointer('', () => checkWithinSweep(scale, marks, UNIT_M_PER_S[unit], word))
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
      { pointer: '/secondScale/radius', in: 'body' },
    )
  }
  return given
}

function checkSpan({ unit, from, max }: Request): void {
  if (from === undefined || valueSi('speed', from) < valueSi('speed', max)) return
  const [low, high] = [from, max].map((wire) =>
    Number((valueSi('speed', wire) / UNIT_M_PER_S[unit]).toPrecision(6)),
  )
  throw new DomainError(
    'out-of-range',
    `from: expected less than max, ${high} ${UNIT_WORDS[unit]}, got ${low} ${UNIT_WORDS[unit]}`,
    { pointer: '/from', in: 'body' },
  )
}

function scalesOf(request: Request, scale: DialScale): DrawnScale[] {
  checkSpan(request)
  const radiusM =
    request.face?.radius === undefined ? DEFAULT_RADIUS_M : valueSi('length', request.face.radius)
  const main = drawnScale(request, scale, request.unit, radiusM, request.graduations, '')
  if (request.secondScale === undefined) return [main]
  const free = freeRadiusM(main.circle, main.marks)
  const given = request.secondScale.radius
  const secondM = secondRadiusM(given && valueSi('length', given), free, radiusM)
  return [
    main,
    drawnScale(request, scale, OTHER[request.unit], secondM, request.secondScale.graduations, '/secondScale'),
  ]
}

function cutoutsOf({ face }: Request): Cutouts {
  const cutouts: { -readonly [K in keyof Cutouts]: Cutouts[K] } = {}
  if (face?.edgeDiameter !== undefined) cutouts.edgeM = valueSi('length', face.edgeDiameter)
  if (face?.holeDiameter !== undefined) cutouts.holeM = valueSi('length', face.holeDiameter)
  if (face?.window !== undefined) {
    const { width, height, right, down } = face.window
    cutouts.window = {
      widthM: valueSi('length', width),
      heightM: valueSi('length', height),
      rightM: right === undefined ? 0 : valueSi('length', right),
      downM: down === undefined ? 0 : valueSi('length', down),
    }
  }
  return cutouts
}

const placeOut = ({ xM, yM }: Place) => ({ xMm: xM * 1000, yMm: yM * 1000 })

/** Marks of a scale; where its ends meet the last number is left out. */
function marksOut({ unit, circle, placed }: DrawnScale): DialScaleShape['marks'] {
  const last = placed.findLast(({ label }) => label !== undefined)
  const leftOut = legibility(circle, placed).endsMeet ? last : undefined
  return placed.map((one) => {
    const { mark, outer, inner, label } = one
    const out: DialScaleShape['marks'][number] = {
      unit,
      value: mark.value,
      kind: mark.kind,
      angle: figureOut(angleOut, mark.angleRad),
      speed: figureOut(speedOut, mark.speedMPerS),
      withinPoints: mark.withinPoints,
      outerEnd: placeOut(outer),
      innerEnd: placeOut(inner),
    }
    if (label !== undefined && one !== leftOut) {
      out.label = label.text
      out.labelAt = placeOut(label.center)
    }
    return out
  })
}

function scaleOut({ unit, circle, steps, placed }: DrawnScale): DialScaleShape['scales'][number] {
  const { closestM } = legibility(circle, placed)
  const { number, major, minor } = steps
  const out: DialScaleShape['scales'][number] = {
    unit,
    radius: lengthOut(circle.radiusM),
    fontHeight: lengthOut(circle.fontHeightM),
    graduations: { number, major, minor },
  }
  if (closestM !== undefined) out.closestMarks = lengthOut(closestM)
  return out
}

function notesOf(request: Request, scale: DialScale, scales: readonly DrawnScale[]): Note[] {
  const notes = [...CAUTIONS]
  if (scale.method === 'linear-sweep') {
    notes.push({
      code: 'linear-scale-assumed',
      level: 'info',
      text: 'No points were given: the pointer angle is assumed proportional to speed, from zero at sweep.start to max at sweep.end. Few old heads are linear to the end of the scale; measure the pointer angle at some known speeds and give points.',
    })
  } else if (scale.shifted.length === 0) {
    notes.push({
      code: 'points-without-uncertainty',
      level: 'info',
      text: 'No point carries a plusMinus, so all count as exact. Give it: an angle is seldom read to better than 1 degree.',
    })
  }
  if (scales.some(({ marks }) => marks.some(({ withinPoints }) => !withinPoints))) {
    notes.push({
      code: 'marks-beyond-points',
      level: 'caution',
      text: 'Some marks lie below the slowest or above the fastest point (withinPoints false): there the scale is extrapolated in a straight line. Measure a point near each end.',
    })
  }
  for (const { unit, circle, placed, notes: own, steps } of scales) {
    notes.push(...own)
    if (legibility(circle, placed).endsMeet) {
      notes.push({
        code: 'ends-meet',
        level: 'caution',
        text: `The last number of the ${UNIT_WORDS[unit]} scale would coincide with the first, so it is left out, and the pointer cannot distinguish the two. Give a narrower sweep.`,
      })
    }
    const maxNumberStep =
      valueSi('speed', request.max) > R39_FAST_M_PER_S && unit === 'kmh' ? R39_NUMBERS_FAST : R39_NUMBERS
    if (!R39_STEPS.includes(steps.minor) || steps.number > maxNumberStep) {
      notes.push({
        code: 'steps-outside-un-r39',
        level: 'info',
        text: `UN R39 has marks every 1, 2, 5 or 10 and numbers at most ${maxNumberStep} apart; the ${UNIT_WORDS[unit]} scale has ${steps.minor} and ${steps.number}. It applies to new cars; older ones may differ.`,
      })
    }
  }
  if (scales.some(({ circle }) => circle.fontHeightM < SMALLEST_FONT_M)) {
    notes.push({
      code: 'numbers-small',
      level: 'caution',
      text: 'The font of the numbers is less than 2 mm high: few people can read them while driving. Give a larger radius or leave the second scale out.',
    })
  }
  const widestM = Math.max(2 * scales[0]!.circle.radiusM, cutoutsOf(request).edgeM ?? 0)
  if (widestM > SMALLEST_PAPER_M) {
    notes.push({
      code: 'wider-than-paper',
      level: 'info',
      text: 'The dial is wider than the printable width of A4 or Letter: use larger paper, never a smaller scale.',
    })
  }
  if (request.face?.radius === undefined) {
    notes.push({
      code: 'radius-assumed',
      level: 'info',
      text: 'No face.radius was given: the scale is drawn with a radius of 40 mm. Angles do not depend on it.',
    })
  }
  return notes
}

/** The mark with the largest uncertainty of speed. */
const minKnown = (marks: readonly ScaleMark[]) =>
  marks.reduce((worst, mark) => (plusMinus(mark.speedMPerS) > plusMinus(worst.speedMPerS) ? mark : worst))

function unitLabelsOf({ sweep }: DialScale, scales: readonly DrawnScale[]): Word[] {
  const innermost = scales.at(-1)!
  const free = freeRadiusM(innermost.circle, innermost.marks)
  // Near the center a unit name is not on its scale, so it states which scale it belongs to.
  const named = scales.length === 2 && !wordsInGap(sweep)
  return scales.map(({ unit, circle }, i) => {
    const word = named ? `${i === 0 ? 'outer' : 'inner'} ${UNIT_WORDS[unit]}` : UNIT_WORDS[unit]
    return placeWord(word, circle, sweep, free, i === 0 ? -1 : 1)
  })
}

function stopInto(out: DialScaleShape, request: Request, scale: DialScale, radiusM: number): void {
  if (request.zeroStop === undefined) return
  const angle = valueSi('angle', request.zeroStop)
  const speed = speedOfAngle(scale, angle)
  out.zeroStop = {
    angle: angleOut(angle),
    at: placeOut(placeOf(radiusM, angle)),
    speed: speedOut(Math.max(0, speed.value), plusMinus(speed)),
  }
  out.notes.push(
    speed.value > 0
      ? {
          code: 'below-zero-stop',
          level: 'info',
          text: 'Below the speed of zeroStop the pointer rests on its pin and shows nothing, so there are no marks.',
        }
      : {
          code: 'zero-stop-not-reached',
          level: 'info',
          text: 'The pin lies before the zero of the scale: a pointer without pretension comes to rest at zero and does not touch it.',
        },
  )
}

function faceOut({ edgeM, holeM, window }: Cutouts): DialScaleShape['face'] {
  const face: DialScaleShape['face'] = {}
  if (edgeM !== undefined) face.edgeDiameter = lengthOut(edgeM)
  if (holeM !== undefined) face.holeDiameter = lengthOut(holeM)
  if (window !== undefined) {
    face.window = {
      center: placeOut({ xM: window.rightM, yM: window.downM }),
      width: lengthOut(window.widthM),
      height: lengthOut(window.heightM),
    }
  }
  return face
}

/** The answer of `POST /v1/gauges/dial-scale`. */
export function dialScaleOut(request: Request): DialScaleShape {
  const scale = curveOf(request)
  if (request.zeroStop !== undefined) {
    const { startRad, endRad } = scale.sweep
    const stop = valueSi('angle', request.zeroStop)
    const inside = isReachable(scale, startRad, stop) && isReachable(scale, stop, endRad)
    if (!inside) {
      throw new DomainError('out-of-range', 'zeroStop: expected an angle between sweep.start and sweep.end', {
        pointer: '/zeroStop',
        in: 'body',
      })
    }
  }
  const scales = scalesOf(request, scale)
  const unitLabels = unitLabelsOf(scale, scales)
  const cutouts = cutoutsOf(request)
  const { radiusM } = scales[0]!.circle
  const cutNotes = withPointer('/face', () =>
    checkCutouts(
      cutouts,
      radiusM,
      scales.flatMap(({ placed }) => placed),
      unitLabels,
    ),
  )
  const sources: SourceId[] = ['definitions', 'scale-unit-length', 'dial-proportions', 'un-r39-dial']
  if (scale.method !== 'linear-sweep') sources.push('caller-reading', 'gum')
  if (scale.method === 'monotone-cubic') sources.push('monotone-cubic')
  const out: DialScaleShape = {
    direction: scale.direction,
    method: scale.method,
    sweep: { start: angleOut(scale.sweep.startRad), end: angleOut(scale.sweep.endRad) },
    scales: scales.map(scaleOut),
    marks: scales.flatMap(marksOut),
    angleAt: (request.speeds ?? []).map((wire) => {
      const speed = valueSi('speed', wire)
      return {
        speed: speedOut(speed),
        angle: figureOut(angleOut, angleOfSpeed(scale, speed)),
        withinPoints: isWithinPoints(scale, speed),
      }
    }),
    speedAt: (request.angles ?? []).map((wire) => {
      const angle = valueSi('angle', wire)
      const speed = speedOfAngle(scale, angle)
      return {
        angle: angleOut(angle),
        speed: figureOut(speedOut, speed),
        withinPoints: isWithinPoints(scale, speed.value),
      }
    }),
    unitLabels: unitLabels.map(({ text, center, fontHeightM }) => ({
      text,
      at: placeOut(center),
      fontHeight: lengthOut(fontHeightM),
    })),
    face: faceOut(cutouts),
    budget: budget(minKnown(scales[0]!.marks).speedMPerS),
    ...provenance({ sources, notes: [...notesOf(request, scale, scales), ...cutNotes] }),
  }
  stopInto(out, request, scale, radiusM)
  return out
}
