import { describe, expect, test } from 'vitest'
import {
  benchRatePerS,
  benchSpeedMPerS,
  benchTolerance,
  tighteningSense,
} from '../../../src/domain/cables/bench.js'
import { tableRule } from '../../../src/domain/gauges/verdicts.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'

const MPH = 0.44704
const MILE_M = 1609.344
const THOUSAND = exact(1000 / MILE_M)

// US War Department TM 9-1829A (1944): 1000 turns a mile is 60 mph at 1000 rpm.
describe('TM 9-1829A: a head of 1000 turns a mile', () => {
  test.each([
    [10, 1000 / 6],
    [30, 500],
    [60, 1000],
    [90, 1500],
  ])('%d mph at %d rpm, and back', (mph, rpm) => {
    expect(benchRatePerS(THOUSAND, exact(mph * MPH)).value * 60).toBeCloseTo(rpm, 9)
    expect(benchSpeedMPerS(THOUSAND, exact(rpm / 60)).value / MPH).toBeCloseTo(mph, 9)
  })
  test('a constant good to 1 % gives rpm and speed good to 1 %', () => {
    const k = uncertain(1000 / MILE_M, 'constant', 5 / MILE_M)
    expect(plusMinus(benchRatePerS(k, exact(60 * MPH))) * 60).toBeCloseTo(10, 9)
    expect(plusMinus(benchSpeedMPerS(k, exact(1000 / 60))) / MPH).toBeCloseTo(0.6, 9)
    // 1000 ± 100 rpm: 10 % and 1 % of 60 mph, in squares (JCGM 100:2008, 5.1.6).
    const rate = uncertain(1000 / 60, 'drill', 50 / 60)
    expect(plusMinus(benchSpeedMPerS(k, rate)) / MPH).toBeCloseTo(Math.hypot(6, 0.6), 9)
  })
})

describe('TM 9-1829A: tolerances of the dial on the bench', () => {
  const at = (mph: number) => benchTolerance(tableRule('us-army-bench-1944'), mph * MPH)
  test.each([
    [10, 9, 11, 'rule'],
    [30, 30, 32, 'rule'],
    [60, 60, 63, 'rule'],
    // Between the points the errors allowed are joined by straight lines: -1..+1 at 10, 0..+2 at 30, 0..+3 at 60.
    [20, 19.5, 21.5, 'between-points'],
    [25, 24.75, 26.75, 'between-points'],
    [45, 45, 47.5, 'between-points'],
  ] as const)('%d mph: %d to %d', (mph, lower, upper, basis) => {
    const found = at(mph)!
    expect(found.lowerMPerS! / MPH).toBeCloseTo(lower, 9)
    expect(found.upperMPerS! / MPH).toBeCloseTo(upper, 9)
    expect(found.basis).toBe(basis)
  })
  test.each([5, 9.9, 60.1, 80])('no limits at %d mph', (mph) => expect(at(mph)).toBeUndefined())
  test('a rule with a band gives its own limits: UN R39 at 80 km/h lets the dial show 80 to 92', () => {
    const found = benchTolerance(tableRule('un-r39'), 80 / 3.6)!
    expect(found.lowerMPerS! * 3.6).toBeCloseTo(80, 9)
    expect(found.upperMPerS! * 3.6).toBeCloseTo(92, 9)
  })
})

describe('tighteningSense, by the geometry of the helix', () => {
  /**
   * Angle of a wire at a distance z from the eye, clockwise positive: a right-hand helix runs away from the eye clockwise. The near end is
   * turned by `turn` against the far end.
   */
  const turnsHeld = (hand: 1 | -1, turn: number) => {
    const angle = (z: number) => hand * 2 * Math.PI * z + turn * (1 - z / 10)
    return Math.abs(angle(10) - angle(0))
  }
  test.each([
    ['right-hand', 1],
    ['left-hand', -1],
  ] as const)('%s: the direction named winds the layer tighter, the other unwinds it', (lay, hand) => {
    const sign = tighteningSense(lay) === 'clockwise' ? 1 : -1
    expect(turnsHeld(hand, sign * 0.1)).toBeGreaterThan(turnsHeld(hand, 0))
    expect(turnsHeld(hand, -sign * 0.1)).toBeLessThan(turnsHeld(hand, 0))
  })
})
