import { expect, test } from 'vitest'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'
import { totalDistance } from '../../../src/domain/odometers/total-distance.js'

// Exact arithmetic: 40 000 + 6300/1.05 + 12 · 6000 = 40 000 + 6000 + 72 000 = 118 000.
test('each period counts by its own error, one without an odometer by its trips', () => {
  const found = totalDistance({
    periods: [
      { indicatedM: exact(40_000) },
      { indicatedM: exact(6300), odometerPerTrue: exact(1.05) },
      { tripM: exact(6000), trips: 12 },
    ],
  })
  expect(found.trueDistanceM.value).toBeCloseTo(118_000, 8)
  expect([plusMinus(found.trueDistanceM), found.budget]).toEqual([0, []])
})

// JCGM 100:2008, 5.2: 20 trips share the 15 m of their length, 300 m; 5.1.2: 300 m and 400 m add to 500 m.
test('the trips of a period share their error; periods are independent', () => {
  const periods = [{ tripM: uncertain(1000, 'd', 15), trips: 20 }, { indicatedM: uncertain(9000, 'I', 400) }]
  expect(plusMinus(totalDistance({ periods: periods.slice(0, 1) }).trueDistanceM)).toBeCloseTo(2 * 300, 9)
  expect(plusMinus(totalDistance({ periods }).trueDistanceM)).toBeCloseTo(2 * 500, 9)
})
