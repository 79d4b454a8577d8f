import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import {
  angleOfSpeed,
  checkWithinSweep,
  dialScale,
  isReachable,
  type ScalePoint,
  scaleMarks,
  speedOfAngle,
} from '../../../src/domain/gauges/dial-scale.js'
import { budget } from '../../../src/domain/measure/budget.js'
import { uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'

const MPH = 0.44704
const rad = (degrees: number) => (degrees * Math.PI) / 180
const deg = (radians: number) => (radians * 180) / Math.PI
const sweep = (start: number, end: number) => ({ startRad: rad(start), endRad: rad(end) })

/** A point in degrees and mph, with its uncertainties (95 %). */
const point = (angle: number, mph: number, angleUncertainty = 0, mphUncertainty = 0): ScalePoint => ({
  angleRad: uncertain(rad(angle), `angle at ${mph}`, rad(angleUncertainty) / 2),
  speedMPerS: uncertain(mph * MPH, `speed at ${mph}`, (mphUncertainty * MPH) / 2),
})
const angleAt = (scale: ReturnType<typeof dialScale>, mph: number) => angleOfSpeed(scale, mph * MPH)
const STEPS = { number: 20, major: 10, minor: 5 }

describe('without points', () => {
  test.each([
    // 240 degrees for 120 mph: 2 degrees a mph.
    [-120, 120, 60, 0],
    [-120, 120, 30, -60],
    [240, 480, 60, 360],
    // Counter-clockwise from three o'clock to straight up.
    [90, 0, 120, 0],
    [90, 0, 40, 60],
    // A whole turn.
    [180, 540, 30, 270],
    [-30, -390, 90, -300],
  ])('from %f to %f degrees, max 120 mph: %f mph lies at %f', (start, end, mph, expected) => {
    const scale = dialScale(sweep(start, end), 120 * MPH)
    expect(deg(angleAt(scale, mph).value)).toBeCloseTo(expected, 10)
    expect(plusMinus(angleAt(scale, mph))).toBe(0)
    expect(speedOfAngle(scale, rad(expected)).value / MPH).toBeCloseTo(mph, 10)
    expect(scale.method).toBe('linear-sweep')
  })
})

describe('with two points', () => {
  test('is the straight line through them: 20 mph at -90, 100 mph at 90 is 2.25 degrees per mph', () => {
    const scale = dialScale(sweep(-135, 135), 120 * MPH, [point(90, 100), point(-90, 20)])
    expect(scale.method).toBe('straight-line')
    expect(deg(angleAt(scale, 60).value)).toBeCloseTo(0, 10)
    expect(deg(angleAt(scale, 0).value)).toBeCloseTo(-135, 10)
  })
  // JCGM 100:2008, 5.1.2: θ = (1 − t)·θ₁ + t·θ₂.
  test.each([
    [50, Math.hypot(0.5, 0.5)],
    [0, 1],
    [150, Math.hypot(0.5, 1.5)],
  ])('angles ± 1 degree at 0 and 100 mph: at %f mph ± %f', (mph, expected) => {
    const scale = dialScale(sweep(-50, 300), 100 * MPH, [point(0, 0, 1), point(200, 100, 1)])
    expect(deg(plusMinus(angleAt(scale, mph)))).toBeCloseTo(expected, 9)
  })
  test('a speed ± 2 mph at 100 mph, 2 degrees per mph: half of 200·100·(1/99 − 1/101), twice', () => {
    const scale = dialScale(sweep(0, 300), 100 * MPH, [point(0, 0), point(200, 100, 0, 2)])
    expect(deg(plusMinus(angleAt(scale, 100)))).toBeCloseTo(20_000 * (1 / 99 - 1 / 101), 8)
    // Read backward, it is the uncertainty of the speed itself: 4.0004 degrees over 2 degrees a mph.
    expect(plusMinus(speedOfAngle(scale, rad(200))) / MPH).toBeCloseTo(10_000 * (1 / 99 - 1 / 101), 8)
  })
})

const FIVE = [point(-118, 10, 1, 0.3), point(-84, 25, 1, 0.3), point(-23, 50, 1, 0.4), point(32, 75, 1, 0.5)]

describe('with more points', () => {
  test('is the cubic: 0, 1, 3 radians at 0, 1, 2 m/s lie at 13/32 radians for 1/2 m/s (hand arithmetic in monotone-cubic.test.ts)', () => {
    const points = [0, 1, 3].map((angle, v) => ({
      angleRad: uncertain(angle, `a${v}`, 0),
      speedMPerS: uncertain(v, `v${v}`, 0),
    }))
    const scale = dialScale({ startRad: 0, endRad: 4 }, 2, points)
    expect(scale.method).toBe('monotone-cubic')
    const angle = angleOfSpeed(scale, 0.5)
    expect(angle.value).toBeCloseTo(13 / 32, 12)
    // The chord is 1/2 there: the shape of the scale is known to (1/2 − 13/32)/√3, twice.
    expect(plusMinus(angle)).toBeCloseTo((2 * (3 / 32)) / Math.sqrt(3), 12)
    expect(budget(angle)).toEqual([{ input: 'shape of the scale between the points', sharePercent: 100 }])
  })
  test('a mirrored dial has the opposite direction and the same uncertainties', () => {
    const mirrored = FIVE.map(({ angleRad, speedMPerS }) => ({
      angleRad: { ...angleRad, value: -angleRad.value },
      speedMPerS,
    }))
    const right = dialScale(sweep(-135, 135), 90 * MPH, FIVE)
    const left = dialScale(sweep(135, -135), 90 * MPH, mirrored)
    expect(left.direction).toBe('counterclockwise')
    for (const mph of [0, 10, 33, 60, 88]) {
      expect(angleAt(left, mph).value).toBeCloseTo(-angleAt(right, mph).value, 12)
      expect(plusMinus(angleAt(left, mph))).toBeCloseTo(plusMinus(angleAt(right, mph)), 12)
    }
  })
  test('the order of the points does not matter', () => {
    const scale = dialScale(sweep(-135, 135), 90 * MPH, FIVE)
    const turned = dialScale(sweep(-135, 135), 90 * MPH, [...FIVE].reverse())
    expect(angleAt(turned, 42).value).toBe(angleAt(scale, 42).value)
  })
  test('at a point its own uncertainties count: u² = u(angle)² + (slope·u(speed))²', () => {
    const scale = dialScale(sweep(-135, 135), 90 * MPH, FIVE)
    const slope = scale.curve.slopes[2]! * MPH
    expect(deg(plusMinus(angleAt(scale, 50)))).toBeCloseTo(Math.hypot(1, 0.4 * deg(slope)), 3)
  })
  test('the uncertainty grows with the distance of extrapolation', () => {
    const scale = dialScale(sweep(-135, 135), 90 * MPH, FIVE)
    expect(plusMinus(angleAt(scale, 95))).toBeGreaterThan(2 * plusMinus(angleAt(scale, 75)))
  })
  test('scattered points give scattered angles: 2000 random dials spread as the uncertainty says (JCGM 101)', () => {
    let state = 12345
    const uniform = () => {
      state = (state * 48271) % 2147483647
      return state / 2147483647
    }
    const normal = () => Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform())
    const collinear = [0, 30, 60, 90].map((mph) => point(2 * mph - 90, mph, 1, 0.5))
    const angles = Array.from({ length: 2000 }, () => {
      const moved = collinear.map(({ angleRad, speedMPerS }) => ({
        angleRad: uncertain(angleRad.value + rad(0.5) * normal(), '', 0),
        speedMPerS: uncertain(speedMPerS.value + 0.25 * MPH * normal(), '', 0),
      }))
      return angleAt(dialScale(sweep(-135, 135), 90 * MPH, moved), 40).value
    })
    const mean = angles.reduce((total, angle) => total + angle, 0) / angles.length
    const spread = Math.sqrt(
      angles.reduce((total, angle) => total + (angle - mean) ** 2, 0) / (angles.length - 1),
    )
    const stated = plusMinus(angleAt(dialScale(sweep(-135, 135), 90 * MPH, collinear), 40)) / 2
    // The spread of 2000 is known to 1.6 %; the limiter of the slopes bends the rest.
    expect(spread / stated).toBeGreaterThan(0.9)
    expect(spread / stated).toBeLessThan(1.1)
  })
})

const dials = fc.record({
  start: fc.double({ min: -360, max: 360, noNaN: true }),
  turn: fc.double({ min: 10, max: 360, noNaN: true }),
  clockwise: fc.boolean(),
  parts: fc.array(
    fc.tuple(fc.double({ min: 0.05, max: 1, noNaN: true }), fc.double({ min: 0.05, max: 1, noNaN: true })),
    {
      minLength: 1,
      maxLength: 10,
    },
  ),
})

test('on any dial the pointer advances with speed, and speed → angle → speed is the identity', () => {
  fc.assert(
    fc.property(dials, ({ start, turn, clockwise, parts }) => {
      const sign = clockwise ? 1 : -1
      const total = parts.reduce((sum, [, advance]) => sum + advance, 0)
      let mph = 10
      let advance = 0
      const points = [point(start, mph)]
      for (const [dv, da] of parts) {
        mph += 100 * dv
        advance += (da / total) * turn * 0.999
        points.push(point(start + sign * advance, mph))
      }
      const scale = dialScale(sweep(start, start + sign * turn), mph * MPH, points)
      let before = Number.NEGATIVE_INFINITY
      for (let i = 0; i <= 40; i++) {
        const speed = (mph * i) / 40
        const angle = angleAt(scale, speed).value
        expect(sign * angle).toBeGreaterThan(before)
        before = sign * angle
        expect(speedOfAngle(scale, angle).value / MPH).toBeCloseTo(speed, 6)
      }
    }),
  )
})

describe('marks', () => {
  const scale = dialScale(sweep(-120, 120), 120 * MPH)
  test('minor every 5, major every 10, numbered every 20, from 0 to 120', () => {
    const marks = scaleMarks(scale, STEPS, MPH, 0, 120 * MPH)
    expect(marks.map(({ value }) => value)).toEqual(Array.from({ length: 25 }, (_, i) => 5 * i))
    expect(marks.filter(({ kind }) => kind === 'numbered').map(({ value }) => value)).toEqual([
      0, 20, 40, 60, 80, 100, 120,
    ])
    expect(marks.filter(({ kind }) => kind === 'major').map(({ value }) => value)).toEqual([
      10, 30, 50, 70, 90, 110,
    ])
    for (const { value, angleRad } of marks) expect(deg(angleRad.value)).toBeCloseTo(2 * value - 120, 10)
  })
  test('a second scale in km/h: 100 km/h is 62.137119 mph (1 mile = 1609.344 m), at 4.274239 degrees', () => {
    const marks = scaleMarks(scale, STEPS, 1 / 3.6, 0, 120 * MPH)
    const hundred = marks.find(({ value }) => value === 100)!
    expect(deg(hundred.angleRad.value)).toBeCloseTo((2 * 100) / 1.609344 - 120, 10)
    // 120 mph are 193.12 km/h: the last mark is 190.
    expect(marks.at(-1)!.value).toBe(190)
  })
  test('start at the first multiple at or above the first speed', () => {
    expect(scaleMarks(scale, STEPS, MPH, 12 * MPH, 30 * MPH).map(({ value }) => value)).toEqual([
      15, 20, 25, 30,
    ])
  })
  test.each([
    [{ number: 20, major: 10, minor: 4 }, '/major'],
    [{ number: 25, major: 10, minor: 5 }, '/number'],
  ])('steps %j are not multiples', (steps, pointer) => {
    expect(() => scaleMarks(scale, steps, MPH, 0, 100)).toThrow(
      expect.objectContaining({
        code: 'scale-steps-do-not-nest',
        context: expect.objectContaining({ pointer }),
      }),
    )
  })
  test('the speed of a mark carries the uncertainty of a reading there, not of its own value', () => {
    const two = dialScale(sweep(0, 300), 100 * MPH, [point(0, 0, 1), point(200, 100, 1)])
    const [zero, , middle] = scaleMarks(two, { number: 25, major: 25, minor: 25 }, MPH, 0, 100 * MPH)
    expect(middle!.speedMPerS.value).toBe(50 * MPH)
    expect(plusMinus(middle!.speedMPerS) / MPH).toBeCloseTo(Math.hypot(0.5, 0.5) / 2, 9)
    expect(plusMinus(zero!.speedMPerS) / MPH).toBeCloseTo(0.5, 9)
  })
})

describe('rejected input', () => {
  const refuse = (points: ScalePoint[], code: string, pointer: string, message: RegExp) =>
    expect(() => dialScale(sweep(-120, 120), 120 * MPH, points)).toThrow(
      expect.objectContaining({
        code,
        message: expect.stringMatching(message),
        context: expect.objectContaining({ pointer }),
      }),
    )
  test('too few points', () => {
    refuse([], 'too-few-readings', '/points', /at least 2, got 0/)
    refuse([point(0, 50)], 'too-few-readings', '/points', /at least 2, got 1/)
  })
  test('a point that goes back is named, in any order of points', () => {
    const wrong = [point(50, 80), point(-60, 20), point(-70, 40)]
    refuse(wrong, 'scale-points-not-advancing', '/points/2/angle', /point 3 does not lie beyond point 2/)
  })
  test('a speed twice', () => {
    refuse(
      [point(-60, 20), point(-50, 20)],
      'scale-points-not-advancing',
      '/points/1/speed',
      /point 2 has the speed of point 1/,
    )
  })
  test('points closer than their uncertainties, in angle or in speed', () => {
    refuse(
      [point(0, 20, 3), point(4, 30, 3)],
      'scale-points-not-advancing',
      '/points/1/angle',
      /within the uncertainty of the angle/,
    )
    refuse(
      [point(0, 20, 0, 5), point(40, 25, 0, 5)],
      'scale-points-not-advancing',
      '/points/1/angle',
      /within the uncertainty of the speed/,
    )
    expect(dialScale(sweep(-120, 120), 100, [point(0, 20, 3), point(4.3, 30, 3)]).method).toBe(
      'straight-line',
    )
  })
  test('an angle off the sweep by a full turn', () => {
    refuse(
      [point(270, 20), point(0, 60)],
      'out-of-range',
      '/points/0/angle',
      /add or take a full turn of 360/,
    )
  })
  test.each([
    [0, 9.9],
    [0, 360.1],
    [50, 50],
  ])('a sweep from %f to %f degrees', (start, end) => {
    expect(() => dialScale(sweep(start, end), 50)).toThrow(
      expect.objectContaining({ code: 'out-of-range', context: { pointer: '/sweep/end' } }),
    )
  })
  test('the limits of a sweep are accepted', () => {
    expect(dialScale(sweep(0, 10), 50).direction).toBe('clockwise')
    expect(dialScale(sweep(0, -360), 50).direction).toBe('counterclockwise')
  })
  test('marks past the end or before the start of the sweep, with the speed to use', () => {
    // 2 degrees a mph from 0 at -100: the sweep ends at 110 mph, starts at -10 mph.
    const scale = dialScale(sweep(-80, 120), 120 * MPH, [point(-60, 20), point(60, 80)])
    const marks = (from: number, to: number) => scaleMarks(scale, STEPS, MPH, from * MPH, to * MPH)
    expect(() => checkWithinSweep(scale, marks(20, 120), MPH, 'mph')).toThrow(
      expect.objectContaining({
        code: 'scale-beyond-sweep',
        message: expect.stringContaining('give 110 mph'),
      }),
    )
    expect(() => checkWithinSweep(scale, marks(0, 100), MPH, 'mph')).toThrow(
      expect.objectContaining({
        code: 'scale-beyond-sweep',
        message: expect.stringContaining('give 10 mph'),
      }),
    )
    checkWithinSweep(scale, marks(10, 110), MPH, 'mph')
  })
})

test('isReachable follows the direction of the sweep', () => {
  const right = dialScale(sweep(-120, 120), 50)
  const left = dialScale(sweep(120, -120), 50)
  expect(isReachable(right, 0, 0.1)).toBe(true)
  expect(isReachable(right, 0, -0.1)).toBe(false)
  expect(isReachable(left, 0, 0.1)).toBe(false)
  expect(isReachable(left, 0, 0)).toBe(true)
})
