import { expect, test } from 'vitest'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'
import { outerWheelPercent } from '../../../src/domain/pick-ups/bends.js'

test('in a circle of 10 m to the middle of a 1.4 m axle the wheels run on 10.7 and 9.3 m: +7 and -7 %', () => {
  const lengths = [10.7, 9.3, 10].map((radius) => 2 * Math.PI * radius)
  expect(outerWheelPercent(exact(1.4), 10).value).toBeCloseTo((lengths[0]! / lengths[2]! - 1) * 100, 9)
  expect(-outerWheelPercent(exact(1.4), 10).value).toBeCloseTo((lengths[1]! / lengths[2]! - 1) * 100, 9)
})

test('10 cm of uncertainty in the track are 0.5 points at 10 m', () => {
  expect(plusMinus(outerWheelPercent(uncertain(1.4, 'track', 0.05), 10))).toBeCloseTo(0.5, 12)
})
