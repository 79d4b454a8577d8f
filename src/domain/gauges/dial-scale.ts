import { DomainError } from '../errors.js'
import { type Contribution, type Figure, uncertain } from '../measure/figure.js'
import { argumentAt, chordAt, curveAt, type MonotoneCurve, monotoneCurve } from '../measure/monotone-cubic.js'
import { propagate } from '../measure/propagation.js'
import { plusMinus, standardUncertainty } from '../measure/uncertainty.js'

/** Angles are clockwise from straight up, seen from in front of the dial; they continue past a full turn. */
export interface Sweep {
  readonly startRad: number
  readonly endRad: number
}

/** Measured angle of the pointer at a known speed. */
export interface ScalePoint {
  readonly angleRad: Figure
  readonly speedMPerS: Figure
}

export type ScaleMethod = 'linear-sweep' | 'straight-line' | 'monotone-cubic'

export interface DialScale {
  readonly sweep: Sweep
  readonly direction: 'clockwise' | 'counterclockwise'
  readonly method: ScaleMethod
  /** Advance from the start of the sweep, in its direction [rad], against speed [m/s]. */
  readonly curve: MonotoneCurve
  /** The same curve with one input raised, and lowered, by its standard uncertainty. */
  readonly shifted: ReadonlyArray<{
    readonly input: string
    readonly higher: MonotoneCurve
    readonly lower: MonotoneCurve
  }>
}

/** Limits of the sweep: the minimum of a readable dial, and a full turn. */
const MIN_SWEEP_RAD = Math.PI / 18
const FULL_TURN_RAD = 2 * Math.PI

/** Angles closer than this count as equal: a billionth of a turn is far below the resolution of print. */
const SAME_ANGLE_RAD = 1e-9

const SHAPE = 'shape of the scale between the points'

const degrees = (rad: number) => Number(((rad * 180) / Math.PI).toPrecision(6))

/** Index of the point in the request, for messages. */
interface Ranked {
  readonly index: number
  readonly x: number
  readonly y: number
  readonly point: ScalePoint
}

function notAdvancing(before: Ranked, { index, y }: Ranked, why: string): DomainError {
  return new DomainError(
    'scale-points-not-advancing',
    `points: point ${index + 1} ${why} point ${before.index + 1}, the next slower one (they lie ${degrees(before.y)} and ${degrees(y)} deg from sweep.start); expected the pointer to advance in the direction of the sweep by more than the uncertainties of both`,
    { pointer: `/points/${index}/angle`, point: index, before: before.index },
  )
}

/** Points in order of speed; each must lie farther along the sweep than the one before, by more than both uncertainties. */
function ranked(points: readonly ScalePoint[], direction: number, { startRad, endRad }: Sweep): Ranked[] {
  const low = Math.min(startRad, endRad)
  const high = Math.max(startRad, endRad)
  const order = points
    .map((point, index) => {
      const angle = point.angleRad.value
      if (angle < low - SAME_ANGLE_RAD || angle > high + SAME_ANGLE_RAD) {
        throw new DomainError(
          'out-of-range',
          `points: the angle of point ${index + 1} is ${degrees(angle)} deg; expected it within the sweep, ${degrees(startRad)} to ${degrees(endRad)} deg: add or take a full turn of 360, or widen the sweep`,
          { pointer: `/points/${index}/angle`, value: degrees(angle) },
        )
      }
      return { index, x: point.speedMPerS.value, y: direction * (angle - startRad), point }
    })
    .sort((a, b) => a.x - b.x || a.index - b.index)
  for (let i = 1; i < order.length; i++) {
    const [before, here] = [order[i - 1]!, order[i]!]
    if (here.x === before.x) {
      throw new DomainError(
        'scale-points-not-advancing',
        `points: point ${here.index + 1} has the speed of point ${before.index + 1}; give one point a speed, with the mean of its angles`,
        { pointer: `/points/${here.index}/speed`, point: here.index, before: before.index },
      )
    }
    if (here.y <= before.y) throw notAdvancing(before, here, 'does not lie beyond')
    const uncertainty = (of: (point: ScalePoint) => Figure) =>
      Math.hypot(plusMinus(of(before.point)), plusMinus(of(here.point)))
    if (here.y - before.y <= uncertainty(({ angleRad }) => angleRad)) {
      throw notAdvancing(before, here, 'lies within the uncertainty of the angle of')
    }
    if (here.x - before.x <= uncertainty(({ speedMPerS }) => speedMPerS)) {
      throw notAdvancing(before, here, 'lies within the uncertainty of the speed of')
    }
  }
  return order
}

/** The curve recomputed for each uncertain input, raised and lowered by its standard uncertainty. */
function shiftedCurves(order: readonly Ranked[], direction: number): DialScale['shifted'] {
  const moved = (at: number, dx: number, dy: number) =>
    monotoneCurve(order.map(({ x, y }, i) => (i === at ? { x: x + dx, y: y + dy } : { x, y })))
  return order.flatMap(({ index, point }, at) => {
    const uAngle = direction * standardUncertainty(point.angleRad)
    const uSpeed = standardUncertainty(point.speedMPerS)
    const name = `point ${index + 1}`
    return [
      ...(uAngle === 0
        ? []
        : [{ input: `${name}: angle`, higher: moved(at, 0, uAngle), lower: moved(at, 0, -uAngle) }]),
      ...(uSpeed === 0
        ? []
        : [{ input: `${name}: speed`, higher: moved(at, uSpeed, 0), lower: moved(at, -uSpeed, 0) }]),
    ]
  })
}

/**
 * The scale of a dial: pointer angle as a function of speed.
 *
 *     without points: θ(v) = θ_start + (θ_end − θ_start)·v/v_max
 *     two points: the straight line through them;  more: the monotone cubic through them (Steffen), straight beyond them
 *
 * θ is the angle of the speed v, v_max the speed at the end of the sweep; θ_start and θ_end are the ends of the
 * sweep.
 *
 * Angles are clockwise from straight up, seen from in front; θ_end < θ_start is a counterclockwise dial. Points may come in any
 * order. Their uncertainties count as independent.
 *
 * @param sweep - Where the scale starts and ends. [rad, 10 to 360 degrees apart]
 * @param maxMPerS - Speed at the end of the sweep, for a scale without points. [m/s, > 0]
 * @param points - Measured angles at known speeds, two or more; default: the scale is linear over the sweep
 * @returns The scale
 * @throws {DomainError} `out-of-range`, `too-few-readings`, `scale-points-not-advancing`
 * @see M. Steffen (1990), Astron. Astrophys. 239, 443; JCGM 100:2008, 5.1.3 Note 2 (uncertainty by moving one input at a time)
 * @example dialScale({ startRad: 0, endRad: -Math.PI }, 50).direction // "counterclockwise"
 */
export function dialScale(sweep: Sweep, maxMPerS: number, points?: readonly ScalePoint[]): DialScale {
  const turn = sweep.endRad - sweep.startRad
  if (
    !(Math.abs(turn) >= MIN_SWEEP_RAD - SAME_ANGLE_RAD && Math.abs(turn) <= FULL_TURN_RAD + SAME_ANGLE_RAD)
  ) {
    throw new DomainError(
      'out-of-range',
      `sweep: start and end lie ${degrees(Math.abs(turn))} deg apart; expected 10 to 360 deg. An end above start means a clockwise sweep, an end below it a counterclockwise one; angles may continue past 180 or 360`,
      { pointer: '/sweep/end' },
    )
  }
  const direction = Math.sign(turn)
  const shape = { sweep, direction: direction > 0 ? 'clockwise' : 'counterclockwise' } as const
  if (points === undefined) {
    const curve = monotoneCurve([
      { x: 0, y: 0 },
      { x: maxMPerS, y: Math.abs(turn) },
    ])
    return { ...shape, method: 'linear-sweep', curve, shifted: [] }
  }
  if (points.length < 2) {
    throw new DomainError(
      'too-few-readings',
      `points: expected at least 2, got ${points.length}; leave out points for a scale that is linear from sweep.start to sweep.end`,
      { pointer: '/points', min: 2 },
    )
  }
  const order = ranked(points, direction, sweep)
  return {
    ...shape,
    method: points.length === 2 ? 'straight-line' : 'monotone-cubic',
    curve: monotoneCurve(order),
    shifted: shiftedCurves(order, direction),
  }
}

/**
 * Angle of the pointer at a speed.
 *
 *     θ = θ_start ± a(v);   u(θ)² = Σᵢ ((a(v; xᵢ + uᵢ) − a(v; xᵢ − uᵢ))/2)² + (a(v) − chord(v))²/3
 *
 * a(v) is the angle from the start of the sweep, xᵢ a measured angle or speed and uᵢ its uncertainty, θ_start the start of the sweep.
 *
 * The last term covers the unmeasured shape of the scale between the points: the true curve is assumed to lie no farther from the drawn
 * curve than the chord does. At a point it is zero.
 *
 * @param scale - The scale
 * @param speedMPerS - v. [m/s]
 * @returns θ, clockwise from straight up. [rad]
 * @throws {DomainError} `not-finite`
 * @see JCGM 100:2008, 5.1.3 Note 2, 4.3.7
 * @example angleOfSpeed(dialScale({ startRad: -2, endRad: 2 }, 40), 30).value // 1 ± 1e-12
 */
export function angleOfSpeed(scale: DialScale, speedMPerS: number): Figure {
  const { sweep, direction, curve, shifted } = scale
  const sign = direction === 'clockwise' ? 1 : -1
  const { value: advance } = curveAt(curve, speedMPerS)
  const contributions: Contribution[] = shifted.flatMap(({ input, higher, lower }) => {
    const part = (sign * (curveAt(higher, speedMPerS).value - curveAt(lower, speedMPerS).value)) / 2
    return part === 0 ? [] : [{ input, part }]
  })
  const points = { value: sweep.startRad + sign * advance, contributions }
  const besideChord = curve.xs.length === 2 ? 0 : Math.abs(advance - chordAt(curve, speedMPerS))
  const shape = uncertain(0, SHAPE, besideChord / Math.sqrt(3))
  return propagate(points.value, [
    [points, 1],
    [shape, 1],
  ])
}

/**
 * Speed indicated by a pointer angle.
 *
 *     v with θ(v) = θ;   u(v) = u(θ) / |dθ/dv|
 *
 * @param scale - The scale
 * @param angleRad - θ of the pointer, clockwise from straight up, counted like the sweep. [rad]
 * @returns v; below zero for a pointer before the zero of the scale. [m/s]
 * @throws {DomainError} `not-finite`
 * @see JCGM 100:2008, 5.1.2 eq. (10) on the inverse function
 * @example speedOfAngle(dialScale({ startRad: -2, endRad: 2 }, 40), 1).value // 30 ± 1e-12
 */
export function speedOfAngle(scale: DialScale, angleRad: number): Figure {
  const sign = scale.direction === 'clockwise' ? 1 : -1
  const speed = argumentAt(scale.curve, sign * (angleRad - scale.sweep.startRad))
  return propagate(speed, [[angleOfSpeed(scale, speed), -sign / curveAt(scale.curve, speed).slope]])
}

/**
 * Whether the pointer reaches one angle after another as the speed rises.
 *
 *     ±(θ − θ_before) ≥ 0, + for a clockwise dial
 *
 * @param scale - The scale
 * @param beforeRad - The angle that comes first: that of a pin, or the start of the sweep. [rad]
 * @param angleRad - θ. [rad]
 * @returns True also for the same angle
 * @see derived: direction of the sweep
 * @example isReachable(dialScale({ startRad: 2, endRad: -2 }, 40), 1, 0.5) // true
 */
export function isReachable(scale: DialScale, beforeRad: number, angleRad: number): boolean {
  const advance = scale.direction === 'clockwise' ? angleRad - beforeRad : beforeRad - angleRad
  return advance >= -SAME_ANGLE_RAD
}

/**
 * Whether a speed lies within the measured range of the scale.
 *
 *     v₀ ≤ v ≤ vₙ, the slowest and the fastest point; a linear sweep holds from zero to max
 *
 * @param scale - The scale
 * @param speedMPerS - v. [m/s]
 * @returns False where the scale is extrapolated
 * @see derived: range of the points
 * @example isWithinPoints(dialScale({ startRad: -2, endRad: 2 }, 40), 41) // false
 */
export function isWithinPoints(scale: DialScale, speedMPerS: number): boolean {
  const { xs } = scale.curve
  return speedMPerS >= xs[0]! * (1 - ROUNDING) - ROUNDING && speedMPerS <= xs.at(-1)! * (1 + ROUNDING)
}

/** Relative tolerance of limits, for rounding in unit conversions. */
const ROUNDING = 1e-9

export type MarkKind = 'numbered' | 'major' | 'minor'

/** Steps between marks, in the unit of the scale; each a multiple of the next. */
export interface Graduation {
  readonly number: number
  readonly major: number
  readonly minor: number
}

export interface ScaleMark {
  /** The round number of the mark, in the unit of its scale. */
  readonly value: number
  readonly kind: MarkKind
  readonly angleRad: Figure
  /** Speed of the mark, with the uncertainty of reading the pointer there. */
  readonly speedMPerS: Figure
  /** Between the slowest and the fastest point. */
  readonly withinPoints: boolean
}

/**
 * The marks of one scale.
 *
 *     k·minor for whole k, from ≤ k·minor ≤ to;  numbered where number divides it, else major where major divides it
 *
 * @param scale - The scale of the dial
 * @param steps - Whole steps, each dividing the one before
 * @param unitMPerS - Size of the unit of this scale. [m/s]
 * @param fromMPerS - First speed to be marked. [m/s, >= 0]
 * @param toMPerS - Last speed to be marked. [m/s]
 * @returns Marks by speed; none when no multiple lies between
 * @throws {DomainError} `scale-steps-do-not-nest`, `not-finite`
 * @see derived: multiples of a step
 * @example scaleMarks(dialScale({ startRad: 0, endRad: 2 }, 20), { number: 10, major: 5, minor: 5 }, 1, 0, 20).map(({ kind }) => kind) // ["numbered","major","numbered","major","numbered"]
 */
export function scaleMarks(
  scale: DialScale,
  steps: Graduation,
  unitMPerS: number,
  fromMPerS: number,
  toMPerS: number,
): ScaleMark[] {
  const { number, major, minor } = steps
  for (const [field, step, part, smaller] of [
    ['major', major, 'minor', minor],
    ['number', number, 'major', major],
  ] as const) {
    if (step % smaller !== 0) {
      throw new DomainError(
        'scale-steps-do-not-nest',
        `${field}: expected a multiple of ${part}, which is ${smaller}; got ${step}`,
        { pointer: `/${field}` },
      )
    }
  }
  const first = Math.ceil((fromMPerS / unitMPerS / minor) * (1 - ROUNDING) - ROUNDING)
  const last = Math.floor((toMPerS / unitMPerS / minor) * (1 + ROUNDING) + ROUNDING)
  return Array.from({ length: Math.max(0, last - first + 1) }, (_, i) => {
    const value = (first + i) * minor
    const speed = value * unitMPerS
    const angleRad = angleOfSpeed(scale, speed)
    const slope = curveAt(scale.curve, speed).slope
    return {
      value,
      kind: value % number === 0 ? 'numbered' : value % major === 0 ? 'major' : 'minor',
      angleRad,
      speedMPerS: propagate(speed, [[angleRad, (scale.direction === 'clockwise' ? -1 : 1) / slope]]),
      withinPoints: isWithinPoints(scale, speed),
    } as const
  })
}

/**
 * Rejects marks that the pointer cannot reach.
 *
 *     θ between θ_start and θ_end
 *
 * θ is the angle of a mark, θ_start and θ_end are the ends of the sweep.
 *
 * @param scale - The scale
 * @param marks - Its marks, by speed
 * @param unitMPerS - Size of the unit of the marks. [m/s]
 * @param unit - Name of the unit of the marks, for the message
 * @throws {DomainError} `scale-beyond-sweep`, naming the speed at which the sweep starts or ends
 * @see derived: the pointer moves within its sweep
 * @example checkWithinSweep(dialScale({ startRad: 0, endRad: 2 }, 20), scaleMarks(dialScale({ startRad: 0, endRad: 2 }, 20), { number: 10, major: 10, minor: 10 }, 1, 0, 40), 1, 'm/s') // throws scale-beyond-sweep
 */
export function checkWithinSweep(
  scale: DialScale,
  marks: readonly ScaleMark[],
  unitMPerS: number,
  unit: string,
): void {
  const { startRad, endRad } = scale.sweep
  const speedAt = (angleRad: number) =>
    Number((speedOfAngle(scale, angleRad).value / unitMPerS).toPrecision(4))
  const [first, last] = [marks[0], marks.at(-1)]
  if (first === undefined || last === undefined) return
  if (!isReachable(scale, startRad, first.angleRad.value)) {
    throw new DomainError(
      'scale-beyond-sweep',
      `from: the mark of ${first.value} ${unit} would lie at ${degrees(first.angleRad.value)} deg, before the sweep starts at ${degrees(startRad)} deg, where the points give ${speedAt(startRad)} ${unit}; give from at or above that, or give zeroStop if the pointer rests on a pin there`,
      { pointer: '/from', value: first.value },
    )
  }
  if (!isReachable(scale, last.angleRad.value, endRad)) {
    throw new DomainError(
      'scale-beyond-sweep',
      `max: the mark of ${last.value} ${unit} would lie at ${degrees(last.angleRad.value)} deg, past the end of the sweep at ${degrees(endRad)} deg, where the points give ${speedAt(endRad)} ${unit}; give max at or below that, or set sweep.end to where the pointer really stops`,
      { pointer: '/max', value: last.value },
    )
  }
}
