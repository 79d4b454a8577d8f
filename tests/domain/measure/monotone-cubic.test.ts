import { curveMonotoneX, line } from 'd3-shape'
import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { argumentAt, chordAt, curveAt, monotoneCurve } from '../../../src/domain/measure/monotone-cubic.js'

const through = (...points: Array<[number, number]>) => monotoneCurve(points.map(([x, y]) => ({ x, y })))

describe('by hand, M. Steffen (1990), eq. (11)', () => {
  test('points (0, 0), (1, 1), (3, 2): s = 1, 1/2; p = (1·2 + ½·1)/3 = 5/6; ends (3·1 − 5/6)/2 and (3·½ − 5/6)/2', () => {
    const { slopes } = through([0, 0], [1, 1], [3, 2])
    expect(slopes[0]).toBeCloseTo(13 / 12, 14)
    expect(slopes[1]).toBeCloseTo(5 / 6, 14)
    expect(slopes[2]).toBeCloseTo(1 / 3, 14)
  })
  test('a flat chord next to a steep one limits the slope between them to twice the flat one', () => {
    // s = 0.1, 10; p = 5.05; 2·min(0.1, 10, 2.525) = 0.2.
    expect(through([0, 0], [1, 0.1], [2, 10.1]).slopes[1]).toBeCloseTo(0.2, 14)
  })
  test('two points make a straight line, also beyond them', () => {
    const curve = through([10, 1], [20, 3])
    expect(curveAt(curve, 15).value).toBeCloseTo(2, 14)
    expect(curveAt(curve, 15).slope).toBeCloseTo(0.2, 14)
    expect(curveAt(curve, 40).value).toBeCloseTo(7, 14)
    expect(argumentAt(curve, -1)).toBeCloseTo(0, 14)
  })
  test('cubic with slopes 3/4, 3/2 over a rise of 1: y(1/2) = 3/8 + (3 − 3/2 − 3/2)/4 + (9/4 − 2)/8 = 13/32', () => {
    expect(curveAt(through([0, 0], [1, 1], [2, 3]), 0.5).value).toBeCloseTo(13 / 32, 14)
  })
  test('chordAt lies on the straight line of the interval, beyond the ends on that of the last one', () => {
    const curve = through([0, 0], [1, 1], [2, 3])
    expect(chordAt(curve, 1.25)).toBeCloseTo(1.5, 14)
    expect(chordAt(curve, 3)).toBeCloseTo(5, 14)
    expect(chordAt(curve, -1)).toBeCloseTo(-1, 14)
  })
})

/** Rising points, at least two. */
const rising = fc
  .array(
    fc.tuple(fc.double({ min: 0.05, max: 20, noNaN: true }), fc.double({ min: 0.01, max: 20, noNaN: true })),
    {
      minLength: 1,
      maxLength: 12,
    },
  )
  .map((steps) => {
    const points = [{ x: 3, y: -2 }]
    for (const [dx, dy] of steps) points.push({ x: points.at(-1)!.x + dx, y: points.at(-1)!.y + dy })
    return points
  })

test('it is the curve that d3-shape draws with curveMonotoneX, read back from its Bézier segments', () => {
  const draw = line<{ x: number; y: number }>(
    ({ x }) => x,
    ({ y }) => y,
  )
    .curve(curveMonotoneX)
    .digits(15)
  fc.assert(
    fc.property(rising, (points) => {
      if (points.length < 3) return
      const curve = monotoneCurve(points)
      const numbers = draw(points)!
        .match(/-?\d[\d.]*(?:e[+-]?\d+)?/g)!
        .map(Number)
      for (let i = 0; i < points.length - 1; i++) {
        const [x0, y0, , y1, , y2, x3, y3] = numbers.slice(6 * i, 6 * i + 8) as [number, ...number[]]
        for (const t of [0.1, 0.5, 0.8]) {
          const bezier =
            (1 - t) ** 3 * y0! + 3 * t * (1 - t) ** 2 * y1! + 3 * t * t * (1 - t) * y2! + t ** 3 * y3!
          expect(curveAt(curve, x0 + t * (x3! - x0)).value).toBeCloseTo(bezier, 8)
        }
      }
    }),
  )
})

describe('properties', () => {
  test('the curve goes through its points and rises everywhere', () => {
    fc.assert(
      fc.property(rising, (points) => {
        const curve = monotoneCurve(points)
        for (const { x, y } of points) expect(curveAt(curve, x).value).toBeCloseTo(y, 9)
        const [from, to] = [points[0]!.x - 5, points.at(-1)!.x + 5]
        let before = Number.NEGATIVE_INFINITY
        for (let i = 0; i <= 400; i++) {
          const { value, slope } = curveAt(curve, from + ((to - from) * i) / 400)
          expect(value).toBeGreaterThan(before)
          expect(slope).toBeGreaterThan(0)
          before = value
        }
      }),
    )
  })
  test('argumentAt is the inverse of curveAt', () => {
    fc.assert(
      fc.property(rising, fc.double({ min: -0.5, max: 1.5, noNaN: true }), (points, t) => {
        const curve = monotoneCurve(points)
        const x = points[0]!.x + t * (points.at(-1)!.x - points[0]!.x)
        const { value, slope } = curveAt(curve, x)
        // Backward error: the value comes back, and so does x where the curve is not flat.
        expect(curveAt(curve, argumentAt(curve, value)).value).toBeCloseTo(value, 9)
        if (slope > 1e-3) expect(argumentAt(curve, value)).toBeCloseTo(x, 6)
      }),
    )
  })
  test('the slope is the derivative', () => {
    const curve = through([0, 0], [1, 1], [3, 2], [4, 6])
    for (const x of [-1, 0.3, 0.9, 1.7, 2.9, 3.5, 5]) {
      const h = 1e-5
      const quotient = (curveAt(curve, x + h).value - curveAt(curve, x - h).value) / (2 * h)
      expect(curveAt(curve, x).slope).toBeCloseTo(quotient, 7)
    }
  })
})

test.each([
  [[{ x: 0, y: 0 }], 'too-few-readings'],
  [
    [
      { x: 0, y: 0 },
      { x: 0, y: 1 },
    ],
    'not-finite',
  ],
  [
    [
      { x: 0, y: 0 },
      { x: 1, y: 0 },
    ],
    'out-of-range',
  ],
  [
    [
      { x: 0, y: 0 },
      { x: -1, y: -1 },
    ],
    'out-of-range',
  ],
])('points %j are rejected: %s', (points, code) => {
  expect(() => monotoneCurve(points)).toThrow(expect.objectContaining({ code }))
})
