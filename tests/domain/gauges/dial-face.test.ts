import { describe, expect, test } from 'vitest'
import { checkCutouts } from '../../../src/domain/gauges/dial-cutouts.js'
import {
  boxOf,
  checkLegible,
  finestSteps,
  freeRadiusM,
  legibility,
  placeMarks,
  placeOf,
  placeWord,
  scaleCircle,
  wordsInGap,
} from '../../../src/domain/gauges/dial-face.js'
import { dialScale, type Graduation, scaleMarks } from '../../../src/domain/gauges/dial-scale.js'

const MPH = 0.44704
const rad = (degrees: number) => (degrees * Math.PI) / 180

/** Marks of a linear dial, 0 at `start` degrees and `max` mph at `end`. */
const marksOf = (start: number, end: number, max: number) => (steps: Graduation) =>
  scaleMarks(dialScale({ startRad: rad(start), endRad: rad(end) }, max * MPH), steps, MPH, 0, max * MPH)
const steps = (number: number, major: number, minor: number) => ({ number, major, minor })

test.each([
  [0, 0, -40],
  [90, 40, 0],
  [180, 0, 40],
  [-90, -40, 0],
  // sin 30 = 1/2, cos 30 = √3/2.
  [30, 20, -40 * Math.sqrt(0.75)],
  [390, 20, -40 * Math.sqrt(0.75)],
])('%f degrees on a radius of 40 mm lies %f mm to the right and %f mm down', (degrees, x, y) => {
  const { xM, yM } = placeOf(0.04, rad(degrees))
  expect(xM * 1000).toBeCloseTo(x, 12)
  expect(yM * 1000).toBeCloseTo(y, 12)
})

describe('placeMarks', () => {
  const circle = scaleCircle(0.04)
  const placed = placeMarks(circle, marksOf(-120, 120, 120)(steps(20, 10, 5)))
  test('every mark lies along its radius, from the circle inward: 4.4 mm long ones, 2.6 mm short ones', () => {
    for (const { mark, outer, inner } of placed) {
      const angle = mark.angleRad.value
      const length = mark.kind === 'minor' ? 0.0026 : 0.0044
      expect(Math.hypot(outer.xM, outer.yM)).toBeCloseTo(0.04, 14)
      expect(Math.hypot(inner.xM, inner.yM)).toBeCloseTo(0.04 - length, 14)
      expect(Math.atan2(inner.xM, -inner.yM)).toBeCloseTo(Math.atan2(Math.sin(angle), Math.cos(angle)), 12)
    }
  })
  test('numbers are placed at their angle, inside the marks and outside the free circle', () => {
    const free = freeRadiusM(
      circle,
      placed.map(({ mark }) => mark),
    )
    const numbered = placed.filter(({ label }) => label !== undefined)
    expect(numbered.map(({ label }) => label!.text)).toEqual(['0', '20', '40', '60', '80', '100', '120'])
    for (const { mark, label } of numbered) {
      const { xM, yM } = label!.center
      expect(Math.atan2(xM, -yM)).toBeCloseTo(mark.angleRad.value, 12)
      expect(Math.hypot(xM, yM)).toBeLessThan(0.04 - 0.0044)
      const { halfWidthM, halfHeightM } = boxOf(label!)
      for (const [right, down] of [
        [1, 1],
        [1, -1],
        [-1, 1],
        [-1, -1],
      ] as const) {
        const corner = Math.hypot(xM + right * halfWidthM, yM + down * halfHeightM)
        expect(corner).toBeGreaterThan(free)
        expect(corner).toBeLessThan(0.04)
      }
    }
  })
})

describe('legibility', () => {
  test('gap is arc length: 1 mph at 2 degrees per mph on 37.4 mm is 37.4·2π/180 = 1.3055 mm', () => {
    const circle = scaleCircle(0.04)
    const { closestM } = legibility(circle, placeMarks(circle, marksOf(-120, 120, 120)(steps(10, 5, 1))))
    expect(closestM! * 1000).toBeCloseTo((37.4 * 2 * Math.PI) / 180, 9)
  })
  test('the ends of a full-circle scale coincide; those of a scale with a gap do not', () => {
    const circle = scaleCircle(0.04)
    const meets = (end: number) =>
      legibility(circle, placeMarks(circle, marksOf(0, end, 120)(steps(20, 10, 10)))).endsMeet
    expect(meets(360)).toBe(true)
    expect(meets(300)).toBe(false)
  })
})

describe('checkLegible', () => {
  const check = (radiusM: number, graduation: Graduation, max = 120) => {
    const circle = scaleCircle(radiusM)
    const make = marksOf(-120, 120, max)
    return checkLegible(circle, placeMarks(circle, make(graduation)), 'mph', () => finestSteps(circle, make))
  }
  // Arc at the inner ends of short marks, 0.935 r: 1.3 mm is 1.3/(0.935·2π/180) = 39.83 mm of radius; 0.6 mm is 18.38 mm.
  test('no note from 1.3 mm up, a caution below, rejected below 0.6 mm', () => {
    expect(check(0.0399, steps(10, 5, 1))).toEqual([])
    expect(check(0.0397, steps(10, 5, 1)).map(({ code, level }) => [code, level])).toEqual([
      ['marks-close', 'caution'],
    ])
    expect(check(0.0185, steps(20, 10, 1)).map(({ code }) => code)).toEqual(['marks-close'])
    expect(() => check(0.0183, steps(20, 10, 1))).toThrow(
      expect.objectContaining({
        code: 'scale-marks-crowded',
        message: expect.stringMatching(/expected at least 0.6 mm: give number 10, major 10, minor 5/),
        context: expect.objectContaining({ pointer: '/minor' }),
      }),
    )
  })
  test('numbers that touch are rejected, with a suggestion', () => {
    expect(() => check(0.04, steps(5, 5, 5), 200)).toThrow(
      expect.objectContaining({
        code: 'scale-marks-crowded',
        message: expect.stringMatching(/would touch; give number \d+, major \d+, minor \d+/),
        context: expect.objectContaining({ pointer: '/number' }),
      }),
    )
  })
  test('the suggestion is legible', () => {
    for (const max of [2, 7, 30, 60, 120, 200, 600]) {
      for (const radius of [0.01, 0.02, 0.04, 0.08]) {
        const circle = scaleCircle(radius)
        const make = marksOf(-120, 120, max)
        const found = finestSteps(circle, make)
        if (found === undefined) continue
        const { closestM, touching } = legibility(circle, placeMarks(circle, make(found)))
        expect(closestM).toBeGreaterThanOrEqual(1.3e-3)
        expect(touching).toBeUndefined()
      }
    }
  })
})

describe('placeWord', () => {
  const circle = scaleCircle(0.04)
  const place = (start: number, end: number) =>
    placeWord('mph', circle, { startRad: rad(start), endRad: rad(end) }, 0.02, -1).center
  test('is placed in the middle of the gap outside the sweep', () => {
    expect(place(-120, 120).xM).toBeCloseTo(0, 12)
    expect(place(-120, 120).yM).toBeGreaterThan(0.03)
    // From three o'clock counterclockwise to six: the gap is about half past four.
    const { xM, yM } = place(90, -180)
    expect(xM).toBeCloseTo(yM, 12)
    expect(xM).toBeGreaterThan(0)
  })
  test('without a gap, above the center', () => {
    expect(place(0, 360)).toEqual({ xM: 0, yM: -0.6 * 0.02 })
  })
  test('nor on the far side of a narrow sector', () => {
    expect(place(-50, 50)).toEqual({ xM: 0, yM: -0.6 * 0.02 })
  })
  test('the gap counts from 50 to 200 degrees', () => {
    const inGap = (turn: number) => wordsInGap({ startRad: 0, endRad: rad(turn) })
    expect([311, 309.9, 160.1, 159].map(inGap)).toEqual([false, true, true, false])
  })
})

describe('checkCutouts', () => {
  const circle = scaleCircle(0.04)
  const placed = placeMarks(circle, marksOf(-120, 120, 120)(steps(20, 10, 5)))
  const words = [placeWord('mph', circle, { startRad: rad(-120), endRad: rad(120) }, 0.02, -1)]
  const codes = (cutouts: Parameters<typeof checkCutouts>[0]) =>
    checkCutouts(cutouts, 0.04, placed, words).map(({ code }) => code)
  const window = (widthM: number, heightM: number, rightM: number, downM: number) => ({
    window: { widthM, heightM, rightM, downM },
  })

  test('an edge, a hole and a window that touch nothing', () => {
    expect(codes({ edgeDiameterM: 0.09, holeDiameterM: 0.01, ...window(0.02, 0.006, 0, 0.02) })).toEqual([])
    expect(codes({})).toEqual([])
  })
  test.each([
    ['over the word', window(0.02, 0.006, 0, 0.038)],
    ['over a number', window(0.01, 0.006, 0, -0.03)],
    ['over marks', window(0.01, 0.002, 0.034, 0)],
    ['a hole as wide as the numbers', { holeDiameterM: 0.07 }],
  ])('a caution where an opening lies %s', (_, cutouts) => {
    expect(codes({ edgeDiameterM: 0.1, ...cutouts })).toEqual(['opening-over-marks'])
  })
  test.each([
    ['/edgeDiameter', { edgeDiameterM: 0.08 }],
    ['/holeDiameter', { holeDiameterM: 0.08 }],
    // Its corner lies √(18² + 43²) = 46.6 mm away, beyond the 40 mm of the scale.
    ['/window', window(0.016, 0.006, 0.01, 0.04)],
  ])('%s that is impossible', (pointer, cutouts) => {
    expect(() => codes(cutouts)).toThrow(
      expect.objectContaining({ code: 'out-of-range', context: expect.objectContaining({ pointer }) }),
    )
  })
  test('the corners of the window decide: 3-4-5, half sides 12 and 9 mm about (12, 15) end at √(24² + 24²) = 33.94 mm', () => {
    expect(() => checkCutouts(window(0.024, 0.018, 0.012, 0.015), 0.0339, [], [])).toThrow()
    expect(checkCutouts(window(0.024, 0.018, 0.012, 0.015), 0.034, [], [])).toEqual([])
  })
})
