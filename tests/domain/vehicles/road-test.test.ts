import { describe, expect, test } from 'vitest'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'
import { roadTest, trueWhenShown } from '../../../src/domain/vehicles/road-test.js'

const MPH = 0.44704
const marks = (...values: number[]) => values.map((value) => value * MPH)

describe('trueWhenShown', () => {
  test('carries the uncertainty of slope and offset: (24 - 2)/1.1 = 20, u = hypot(20·0.011/1.1, 0.22/1.1)', () => {
    const found = trueWhenShown(
      { indicatedPerTrue: uncertain(1.1, 'slope', 0.011), offsetMPerS: uncertain(2, 'offset', 0.22) },
      24,
    )
    expect(found.value).toBeCloseTo(20, 12)
    expect(plusMinus(found)).toBeCloseTo(2 * Math.hypot(0.2, 0.2), 12)
  })

  test('an uncertainty that slope and offset share is not counted twice', () => {
    // y = k·(V + 2): whatever k is, the offset goes with it; at y = 0 the uncertainty of k is without effect.
    const found = trueWhenShown(
      { indicatedPerTrue: uncertain(1, 'k', 0.1), offsetMPerS: uncertain(2, 'k', 0.2) },
      0,
    )
    expect(found.value).toBeCloseTo(-2, 12)
    expect(plusMinus(found)).toBeCloseTo(0, 12)
  })
})

describe('roadTest', () => {
  const true_ = { indicatedPerTrue: exact(1), offsetMPerS: exact(0) }

  test('a mile at 60 mph takes 60 s, a kilometer at 90 km/h 40 s', () => {
    expect(roadTest(true_, 'mph', marks(60)).marks[0]!.timeS.value).toBeCloseTo(60, 9)
    expect(roadTest(true_, 'kmh', [25]).marks[0]!.timeS.value).toBeCloseTo(40, 9)
  })

  test('the time has the relative uncertainty of the speed', () => {
    const { timeS } = roadTest(
      { indicatedPerTrue: uncertain(1, 'slope', 0.01), offsetMPerS: exact(0) },
      'mph',
      marks(60),
    ).marks[0]!
    expect(plusMinus(timeS)).toBeCloseTo(60 * 0.02, 9)
  })

  test('takes every second mark, at most five, none too slow to hold', () => {
    const held = (values: number[]) =>
      roadTest(true_, 'mph', marks(...values)).marks.map(({ indicatedToHoldMPerS }) =>
        Math.round(indicatedToHoldMPerS / MPH),
      )
    expect(held([10, 20, 30, 40, 50, 60, 70, 80, 90, 100, 110, 120])).toEqual([20, 40, 60, 80, 100])
    expect(held([10, 20, 30])).toEqual([20, 30])
  })

  test('a vehicle with only slow marks is tested at those', () => {
    const { marks: slow } = roadTest(true_, 'kmh', [10 / 3.6, 20 / 3.6])
    expect(slow.map(({ indicatedToHoldMPerS }) => indicatedToHoldMPerS * 3.6)).toEqual([
      expect.closeTo(10, 9),
      expect.closeTo(20, 9),
    ])
  })

  test('requires no speed above the top speed: a dial that indicates half needs 60 mph for its mark of 30', () => {
    const half = { indicatedPerTrue: exact(0.5), offsetMPerS: exact(0) }
    const held = (topMph: number) =>
      roadTest(half, 'mph', marks(10, 20, 30, 40), topMph * MPH).marks.map(({ indicatedToHoldMPerS }) =>
        Math.round(indicatedToHoldMPerS / MPH),
      )
    expect(held(80)).toEqual([20, 40])
    expect(held(79)).toEqual([20, 30])
    expect(held(39)).toEqual([10])
    expect(held(19)).toEqual([])
  })

  test('leaves out a mark that the dial indicates at standstill', () => {
    const { marks: left } = roadTest(
      { indicatedPerTrue: exact(1), offsetMPerS: exact(25 * MPH) },
      'mph',
      marks(20, 30),
    )
    expect(left.map(({ trueMPerS }) => trueMPerS.value / MPH)).toEqual([expect.closeTo(5, 9)])
  })
})
